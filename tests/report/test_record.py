"""What a recording came to, as text, whole, and as JSON; without a plan."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from netcheck.capture.live import Listening, Losses
from netcheck.evidence import (
    ExerciseStep,
    Guide,
    GuidePhase,
    MarkOrigin,
    Outcome,
    ProposedMark,
    Result,
    Silence,
    StatePeriod,
    UnpromptedActivity,
)
from netcheck.files import Mark
from netcheck.report._record_live import cut, quiet_text
from netcheck.report._record_words import (
    LISTENING_WORDS,
    ORIGIN_WORDS,
    PHASE_WORDS,
    RESULT_WORDS,
    STOP_WORDS,
    PairSeen,
    RecordStop,
    StopKind,
    stop_text,
)
from netcheck.report.recording import (
    LiveState,
    RecordCase,
    confirmed_text,
    doubtful_pair_text,
    introduction,
    live_lines,
    pages,
    question_text,
    record_json,
    record_text,
    unanswered_text,
    waiting_line,
)
from netcheck.verdict import Reason, Status
from netcheck.work import RecordingSession
from tests.evidence.guided import BRAKE_STEP, Bench
from tests.evidence.guided import REVERSE as REVERSE_STEP
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
    losses=Losses(system=0),
    unseen=0,
    passed=0,
    stop=RecordStop(StopKind.DONE),
    silences=(),
    unsaved="",
    outcomes=(
        Outcome(REVERSE, Result.ANSWERED, 112_500_000_000, 115 * S),
        Outcome(DIMMER, Result.SKIPPED),
    ),
    proposed=(ProposedMark(MARK, MarkOrigin.ANSWERED),),
    unprompted=(),
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
            {"losses": Losses(device=3, own=4)},
            "lost at least 7 frames: 3 by the device driver's count and 4 that netcheck could not write\n",
        ),
        ({"losses": Losses()}, "lost not known: this interface does not tell; rolling counters show it in"),
        (
            {"unseen": 1000},
            "unseen 1,000 frames came too fast for the live view; they are in the log and the plan",
        ),
        ({"error_frames": 2}, "errors 2 error frames in the log\n"),
        ({"passed": 1}, "errors 1 receive error of the interface that passed\n"),
        ({"stop": RecordStop(StopKind.FAULT, said="the disk is full")}, "ended the disk is full\n"),
        (
            {"silences": (Silence(112 * S, 152 * S), Silence(160 * S, 163 * S))},
            "silent no frame from 12.0 to 52.0 s and 60.0 to 63.0 s: check the plug, if the network was",
        ),
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
    comment = "# the role took the state when it was asked for"
    assert f'{unsaved}\nkind = "marks"\nformat = 1\n\n[[mark]]\n{comment}\nrole = "reverse-engaged"\n' in text
    assert "  marks   " not in text
    assert "could not be saved" not in record_text(replace(CASE, unsaved=unsaved, proposed=()))


def test_what_came_unprompted_and_nobody_confirmed_is_told():
    period = StatePeriod(103 * S, 105_900_000_000, 30)
    case = replace(
        CASE,
        unprompted=(UnpromptedActivity(REVERSE, (period,), ("illumination-level",), 0, too_many=False),),
    )
    flat = " ".join(record_text(case).split())
    assert (
        "! reverse-engaged came on during the exercise for illumination-level, 3.0 to 5.9 s; nobody" in flat
    )
    found = record_json(case)
    assert found["unconfirmed"] == ["reverse-engaged"]
    assert found["unprompted"] == [
        {
            "role": "reverse-engaged", "state": "active", "periods": [{"from": 3.0, "to": 5.9}],
            "hands_off": 0, "during": ["illumination-level"], "too_many": False,
        }
    ]  # fmt: skip


@pytest.mark.parametrize("frames", [0, 5])
def test_a_log_without_a_message_is_not_offered_to_the_job(frames):
    case = replace(CASE, frames=frames, error_frames=frames, outcomes=(), proposed=())
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
        {
            "role": "reverse-engaged", "state": "active", "from": 12.5, "to": 15.0, "origin": "answered",
            "how": "the role took the state when it was asked for",
        }
    ]  # fmt: skip
    assert found["plan"] is None
    assert found["lost"] == {
        "frames": 0, "told": True, "how": [], "controller": 0, "driver": None, "system": 0, "netcheck": 0,
    }  # fmt: skip
    assert (found["ending"], found["stop"], found["silences"]) == ("", {"kind": "done"}, [])


def test_silences_are_facts_for_scripts():
    case = replace(CASE, silences=(Silence(112 * S, 152_500_000_000),))
    assert record_json(case)["silences"] == [{"from": 12.0, "to": 52.5}]


def test_a_second_is_one():
    assert "Hands off for 1 second ──" in quiet_text(1.0, width=80, colour=False)
    assert "Hands off for 5 seconds ──" in quiet_text(5.0, width=80, colour=False)


@pytest.mark.parametrize(
    ("kinds", "words"),
    [
        (Result, RESULT_WORDS),
        (MarkOrigin, ORIGIN_WORDS),
        (Listening, LISTENING_WORDS),
        (GuidePhase, PHASE_WORDS),
        (StopKind, STOP_WORDS),
    ],
)
def test_every_kind_has_its_words(kinds, words):
    assert set(words) == set(kinds)


PAIR = PairSeen("comfort", 0, 4, "drive", 4)


@pytest.mark.parametrize(
    ("kind", "says"),
    [
        (StopKind.DONE, ""),
        (StopKind.QUIT, ""),
        (StopKind.SILENCE, "silence: no frame came in 20 s. Switch the ignition on, or open a door"),
        (
            StopKind.SILENCE,
            "this is the pair of comfort (pins 6 and 14), and that the interface is set to",
        ),
        (StopKind.ONLY_ERRORS, "only error frames and no message in 20 s: most likely the bit rate is wrong"),
        (StopKind.WRONG_PAIR, "this is not comfort: 0 of its 4 ids fit comfort, 4 fit drive. Clip on to the"),
        (StopKind.WRONG_PAIR, "comfort (pins 6 and 14) and record again, or give --network drive"),
        (StopKind.FAULT, "the disk is full"),
        (StopKind.CLOCK_SET, "was set ahead by 20.0 s, or the computer was asleep"),
        (StopKind.INTERRUPTED, "interrupted"),
    ],
)
def test_why_it_ended_is_told_in_words_and_as_facts(kind, says):
    stop = RecordStop(kind, "comfort", "pins 6 and 14", 500_000, 20.0, PAIR, "the disk is full")
    assert says in stop_text(stop)
    found = record_json(replace(CASE, stop=stop))
    assert found["ending"] == stop_text(stop)
    assert found["stop"] == {
        "kind": kind.value, "seconds": 20.0, "network": "comfort", "tap": "pins 6 and 14", "bitrate": 500_000,
        "pair": {"network": "comfort", "explained": 0, "ids": 4, "other": "drive", "other_explained": 4,
                 "missing": 0},
        "said": "the disk is full",
    }  # fmt: skip


PERIODS = tuple(StatePeriod(S * n, S * n + S, 9, is_open=False) for n in (101, 105))


@pytest.mark.parametrize(
    ("unprompted", "says"),
    [
        (
            UnpromptedActivity(REVERSE, PERIODS[:1], (), 1, too_many=False),
            "It came on while nobody was to touch anything. Did you switch it?",
        ),
        (
            UnpromptedActivity(replace(REVERSE, state="R"), PERIODS, (), 2, too_many=False),
            "It went to R 2 times, while nobody was to touch anything. Did you switch it?",
        ),
        (
            UnpromptedActivity(REVERSE, PERIODS[:1], ("brake-pedal",), 0, too_many=False),
            "It came on during the exercise for brake-pedal. Did you, or that exercise, switch it?",
        ),
        (
            UnpromptedActivity(REVERSE, PERIODS, ("brake-pedal",), 1, too_many=False),
            "It came on 2 times, while nobody was to touch anything and during the exercise for brake-pedal.",
        ),
    ],
)
def test_what_came_unprompted_is_asked_about_by_what_was_going_on(unprompted, says):
    text = question_text(unprompted, width=110, colour=False)
    assert says in text
    assert " s" not in text.split("[y]")[0].replace(" switch", "")  # no seconds: nobody counts them
    assert "[n] no, or not sure" in text


@pytest.mark.parametrize("key", ["n", "q", "\n", "?"])
def test_no_answer_but_yes_is_a_mark(key):
    assert "no mark" in confirmed_text(key)
    assert confirmed_text("y") == "yes: marked\n"


def test_what_did_not_answer_is_a_question():
    assert unanswered_text(width=80, colour=False) == (
        "It did not answer: [r] do it again [s] skip [y] I did it\n"
    )


def test_while_no_message_comes():
    assert waiting_line(0, 1.0, 20.0, 79) == "  no message yet, 19 s to go"
    assert waiting_line(2, 5.0, 20.0, 79) == (
        "  2 error frames and no message yet, 15 s to go. Is the ignition on?"
    )


def test_a_silence_blanks_the_values():
    """The last value, 40 s old, looked like the present one."""
    bench = Bench(REVERSE_STEP, BRAKE_STEP)
    bench.run(20)
    bench.run(5, lever=1, brake=1)
    state = LiveState(seconds=2.5, frames=25, rate=10.0, lost=0, silent=0.1)
    first, second, _ = live_lines(bench.guide, state, bench.now, 79)
    assert first == "  reverse-engaged: R (1) – ANSWERS, 0.5 s"
    assert second == "  also moving: brake-pedal 1"
    first, second, third = live_lines(bench.guide, replace(state, silent=40.4), bench.now, 79)
    assert first == "  reverse-engaged: – no frame for 40 s, check the plug"
    assert second == ""
    assert third == "  NOTHING FOR 40 s, 2 s, 25 frames, 10 a second"


def test_on_a_narrow_screen_what_is_wrong_stays_and_no_word_is_broken():
    bench = Bench(REVERSE_STEP, BRAKE_STEP)
    bench.run(25, lever=1)
    state = LiveState(seconds=1234.5, frames=1234567, rate=8400.0, lost=12, silent=3.4)
    assert live_lines(bench.guide, state, bench.now, 30) == (
        "  reverse-engaged: – no frame…",
        "",
        "  NOTHING FOR 3 s, 12 LOST",
    )
    assert cut("  steering-angle: 123 deg, 4 changes", 30) == "  steering-angle: 123 deg, 4…"
    assert cut("  a_signal_with_a_name_as_long_as_this: 1", 30) == "  a_signal_with_a_name_as_lon…"


@pytest.mark.parametrize(
    ("missing", "more"),
    [(0, ""), (10, " At least 10 more of its messages must come before the DBC is trusted.")],
)
def test_a_doubtful_pair_is_told_with_what_is_missing(missing, more):
    text = doubtful_pair_text(PairSeen("comfort", 12, 44, missing=missing), width=120, colour=False)
    assert " ".join(text.split()) == (
        f"Careful: only 12 of its 44 ids fit comfort so far.{more} Is it the right pair?"
    )


def test_pages_hold_what_fits_and_lose_nothing():
    parts = ("one\n", "two\nthree\n", "\nfour\n", "1\n2\n3\n4\n5\n", "six\n")
    assert pages(parts, 5) == ("one\ntwo\nthree\n\nfour\n", "1\n2\n3\n4\n5\n", "six\n")
    assert pages(parts, 1) == ("one\n", "two\nthree\n", "four\n", "1\n2\n3\n4\n5\n", "six\n")
    assert pages((), 5) == ()


def test_every_phase_has_a_live_line():
    bench = Bench(REVERSE_STEP, quiet=10)
    state = LiveState(seconds=2.5, frames=25, rate=10.0, lost=0, silent=0.1)

    def first() -> str:
        return live_lines(bench.guide, state, bench.now, 79)[0].strip()

    assert first() == "Hands off: 1 s"
    bench.run(15, lever=1)
    assert first() == "reverse-engaged: R (1) – is active already: it must leave that state first"
    bench.run(15, lever=0)
    assert first() == "reverse-engaged: P (0), 1 change"
    bench.guide.done(bench.now)
    assert first() == "reverse-engaged: P (0) – did not answer"
    bench.guide.skip(bench.now)
    assert first() == "Hands off: 2 s"
    assert live_lines(Guide(()), state, bench.now, 79)[0] == "  Recording"


@pytest.mark.parametrize("listening", Listening)
def test_an_interface_that_may_disturb_stands_out(listening):
    session = RecordingSession("comfort", 500_000, None, "", (REVERSE,), (), (), 60)
    text = "".join(
        introduction(
            session, vehicle="Skerry 240", interface="pcan 1", listening=listening, width=110, colour=True
        )
    )
    is_red = "\x1b[1;31m" in text or "\x1b[31m" in text
    assert is_red == (listening in {Listening.ACKNOWLEDGES, Listening.UNTOLD})
    assert LISTENING_WORDS[listening].split(",")[0].split(" ")[0] in text
