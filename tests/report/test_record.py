"""What a recording came to, as text, whole, and as JSON; without a plan."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from netcheck.evidence import ExerciseStep, Outcome, ProposedMark, Result, StatePeriod, UnpromptedActivity
from netcheck.files import Mark
from netcheck.report._record_live import quiet_text
from netcheck.report.onsite import RecordCase, record_json, record_text
from netcheck.verdict import Reason, Status
from tests.report.examples import EXAMPLES

S = 1_000_000_000
REVERSE = ExerciseStep("reverse-engaged", "Select reverse.", "active", "state", optional=False, watch=None)
DIMMER = ExerciseStep("illumination-level", "Turn the dimmer.", "active", "", optional=True, watch=None)
MARK = Mark.model_validate({"role": "reverse-engaged", "state": "active", "from": 12.5, "to": 15.0})
CASE = RecordCase(
    log=Path("out/evening.log"),
    marks_file=Path("out/evening.marks.toml"),
    job=Path("jobs/gannet.job.toml"),
    network="comfort",
    wanted="comfort",
    channel="can0",
    frames=8065,
    error_frames=0,
    seconds=48.84,
    lost=0,
    lost_how=(),
    lost_untold=False,
    unseen=0,
    passed=0,
    ending="",
    unsaved="",
    outcomes=(
        Outcome(REVERSE, Result.ANSWERED, 112_500_000_000, 115 * S),
        Outcome(DIMMER, Result.SKIPPED),
    ),
    made=(ProposedMark(MARK, "answered"),),
    unasked=(),
    first_ns=100 * S,
    plan=None,
)  # fmt: skip

TEXT = """\
Recorded comfort on can0: 8,065 frames in 48.8 s
  log     out/evening.log
  marks   out/evening.marks.toml (1 mark)
  lost    no frame, as far as the interface and the system tell

── Exercises ───────────────────────────────────────────────────────────────────
  + reverse-engaged     answered, 12.5 to 15.0 s
  ? illumination-level  skipped (optional)

── To keep it ──────────────────────────────────────────────────────────────────
netcheck has not changed jobs/gannet.job.toml. Add these lines to it:

  [[capture]]
  file = "../out/evening.log"
  channels = { "can0" = "comfort" }

Then netcheck plan jobs/gannet.job.toml gives the whole report: coding,
checklist, next steps.
"""


def test_the_whole_text():
    assert record_text(CASE) == TEXT


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (
            {"lost": 7, "lost_how": ("3 by the device driver's count", "4 that netcheck could not write")},
            "lost at least 7 frames: 3 by the device driver's count and 4 that netcheck could not write\n",
        ),
        ({"lost_untold": True}, "lost not known: this interface does not tell; rolling counters show it in"),
        (
            {"unseen": 1000},
            "unseen 1,000 frames came too fast for the live view; the log and the plan have them",
        ),
        ({"error_frames": 2}, "errors 2 error frames in the log\n"),
        ({"passed": 1}, "errors 1 receive error of the interface that passed\n"),
        ({"ending": "the disk is full"}, "ended the disk is full\n"),
        ({"network": "drive"}, "Recorded drive, not comfort, on can0: 8,065 frames"),
        ({"network": "drive"}, "Add these lines to it, if the job needs a capture of drive: [[capture]]"),
        ({"job": Path("my van.job.toml")}, "Then netcheck plan 'my van.job.toml' gives the whole report"),
    ],
)
def test_what_else_is_said(change, says):
    flat = " ".join(record_text(replace(CASE, **change)).split())
    assert " ".join(says.split()) in flat


def test_marks_that_could_not_be_saved_are_there_to_copy():
    unsaved = "out/evening.marks.toml: cannot be written: No space left on device"
    text = record_text(replace(CASE, unsaved=unsaved))
    assert "── The marks could not be saved: copy them ──" in text
    assert (
        f'{unsaved}\nkind = "marks"\nformat = 1\n\n[[mark]]\n# answered\nrole = "reverse-engaged"\n' in text
    )
    assert "  marks   " not in text
    assert "could not be saved" not in record_text(replace(CASE, unsaved=unsaved, made=()))


def test_a_stretch_that_nobody_confirmed_is_told():
    stretch = StatePeriod(103 * S, 105_900_000_000, 30)
    case = replace(
        CASE, unasked=(UnpromptedActivity(REVERSE, (stretch,), ("illumination-level",), too_many=False),)
    )
    flat = " ".join(record_text(case).split())
    assert "! reverse-engaged also active from 3.0 to 5.9 s (during illumination-level); nobody" in flat
    assert record_json(case)["unconfirmed"] == ["reverse-engaged"]


@pytest.mark.parametrize("frames", [0, 5])
def test_a_log_without_a_message_is_not_offered_to_the_job(frames):
    case = replace(CASE, frames=frames, error_frames=frames, outcomes=(), made=())
    assert "To keep it" not in record_text(case)
    assert record_json(case)["job_lines"] == []


def open_part(*needs):
    """The part of the text about what the network still owes."""
    plan = EXAMPLES["unproven"]()
    item = replace(plan.items[0], needs=needs)
    text = record_text(replace(CASE, plan=replace(plan, items=(item,))))
    return text.partition("── Still open on comfort")[2].partition("──\n")[2].partition("\n── ")[0]


def test_what_is_optional_is_no_alarm_and_what_no_recording_changes_is_left_out():
    park = EXAMPLES["unproven"]().items[0].needs[0]
    need = replace(park, network="comfort", status=Status.MISSING, reason=Reason.NO_ANSWER, optional=False)
    assert open_part(need).startswith("  X reverse-engaged")
    assert open_part(replace(need, optional=True)).startswith("  - reverse-engaged")
    unmapped = replace(need, reason=Reason.UNDEFINED_ROLE)
    assert open_part(unmapped).startswith("  X reverse-engaged")
    assert open_part(replace(unmapped, optional=True)) == ""


def test_json_is_plain():
    found = json.loads(json.dumps(record_json(CASE)))
    assert found["schema"] == "netcheck.record/1"
    assert found["exercises"][0] == {
        "role": "reverse-engaged", "state": "active", "result": "answered", "from": 12.5, "to": 15.0,
    }  # fmt: skip
    assert found["marks"] == [
        {"role": "reverse-engaged", "state": "active", "from": 12.5, "to": 15.0, "how": "answered"}
    ]
    assert (found["plan"], found["lost"]) == (None, {"frames": 0, "told": True, "how": []})


def test_a_second_is_one():
    assert "Hands off for 1 second ──" in quiet_text(1.0, width=80, colour=False)
    assert "Hands off for 5 seconds ──" in quiet_text(5.0, width=80, colour=False)
