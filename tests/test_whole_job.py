"""The job of a whole week, eight parts on one van: its sheet, its screen text, and what hangs on one part.

The sheet is read back as a technician would: page by page, line by line. The order of the gates stands here
a second time, by hand.
"""

from __future__ import annotations

import re
from itertools import pairwise

import pytest

import netcheck
from netcheck.catalogue import load_retrofit
from netcheck.files import Retrofit
from netcheck.report import plan_text, sheet_text
from netcheck.verdict import Status, Verdict
from tests.demo.captures import SAMPLE_LOGS
from tests.report.layout import overlong

PARTS = (
    "wheel-buttons",
    "cruise-stalk",
    "park-distance",
    "parking-switch",
    "head-unit",
    "reversing-camera",
    "dash-camera",
    "media-socket",
)
# What each gate asks for, and the stage before and behind it.
GATES = [
    ("BEFORE FITTING", "go or go with changes", "power down", "POWER DOWN, ONCE"),
    ("POWER DOWN, ONCE", "Every source is off", "fit", "FIT"),
    ("FIT", "no tool is left, nobody is in the cab", "power up", "POWER UP, ONCE"),
    ("POWER UP, ONCE", "supply voltage is steady", "code", "CODE"),
    ("CODE", "Every block reads back as written", "begin the checks", "PROVE: STANDING"),
    ("PROVE: STANDING", "Airbag lamp out, stability lamp out, no new fault", "start the engine",
     "PROVE: ENGINE RUNNING"),
    ("PROVE: ENGINE RUNNING", "All warning lamps out, no new fault", "move the vehicle",
     "PROVE: IN THE YARD"),
    ("PROVE: IN THE YARD", "Brakes and steering feel as before", "drive on the road", "PROVE: ON THE ROAD"),
    ("PROVE: ON THE ROAD", "All warning lamps out, no new fault", "hand over", "HAND OVER"),
]  # fmt: skip


def _plan(name: str) -> netcheck.Plan:
    return netcheck.make_plan(netcheck.load_job(SAMPLE_LOGS / f"{name}.job.toml"))


@pytest.fixture(scope="module")
def week() -> netcheck.Plan:
    return _plan("razorbill_2021_eight_parts")


@pytest.fixture(scope="module")
def stopped() -> netcheck.Plan:
    """The same with a head unit that does not go in."""
    return _plan("razorbill_2021_narrow_opening")


def _body(plan: netcheck.Plan) -> list[str]:
    """The lines of all pages between head and foot."""
    return [line for page in sheet_text(plan).split("\f") for line in page.splitlines()[3:-1]]


def _stages(plan: netcheck.Plan) -> dict[str, str]:
    """Each stage as one run of words, without the room for hand-written values; a page that goes on with a
    stage has its title again.
    """
    found: dict[str, list[str]] = {}
    title = ""
    for line in _body(plan):
        if line.startswith("── "):
            title = line.strip("─ ").removesuffix(" (CONTINUED)")
        found.setdefault(title, []).append(line)
    room = re.compile(r"__________ ____$|Sign ________$")
    return {
        title: " ".join(" ".join(room.sub("", line) for line in lines).split())
        for title, lines in found.items()
    }


def _retrofits() -> list[Retrofit]:
    return [load_retrofit(name)[0] for name in PARTS]


# ---------------------------------------------------------------------------- the sheet


def test_the_sheet_has_nine_pages_at_most_and_each_fits_the_paper(week: netcheck.Plan) -> None:
    pages = sheet_text(week).split("\f")
    assert len(pages) <= 9
    for number, page in enumerate(pages, 1):
        assert overlong(page, 80) == []
        assert page.count("\n") == 66
        assert page.splitlines()[0].endswith(f"page {number} of {len(pages)}")
        assert "VIN ZZZSK240ZM0120733" in page.splitlines()[1]


def test_every_gate_is_there_in_order_between_its_two_stages(week: netcheck.Plan) -> None:
    stages = _stages(week)
    titles = [title for title in stages if not title.startswith("JOB ")]
    assert titles == [before for before, *_ in GATES] + ["HAND OVER"]
    assert list(pairwise(titles)) == [(before, behind) for before, _, _, behind in GATES]
    for before, asks, opens, _ in GATES:
        assert stages[before].count("=== GATE: ") == 1
        gate = stages[before].rpartition("=== GATE: ")[2]
        assert asks in gate
        assert gate.endswith(f"only then {opens}.")  # nothing of the stage comes behind its gate
    assert sum(text.count("=== GATE") for text in stages.values()) == len(GATES)


def test_power_goes_off_once_and_comes_back_once(week: netcheck.Plan) -> None:
    text = " ".join(_stages(week).values())
    assert text.count("Disconnect every source") == 1
    assert text.count("reconnect the sources") == 1


def _roles_shown(plan: netcheck.Plan, known: set[str]) -> list[str]:
    """What the exercises on paper show: the name at the head of a step, with each box under it."""
    found: list[str] = []
    proofs = " ".join(text for title, text in _stages(plan).items() if title.startswith("PROVE: "))
    for step in re.split(r"\[ \] \d+ ", proofs)[1:]:
        title, _, rest = step.partition(": ")
        boxes = re.findall(r"\[ \] ([a-z-]+)", rest)
        names = [f"{title}{sign}{box}" for box in boxes for sign in ".-"] or [title]
        found += [name for name in names if name in known]
    return found


def test_each_exercise_is_on_it_once(week: netcheck.Plan) -> None:
    """By the files: every role that a part needs or sends and the van has, and none twice."""
    roles = {exercise.role for retrofit in _retrofits() for exercise in retrofit.exercise}
    missing = {need.role for item in week.items for need in item.needs if need.status is Status.MISSING}
    wanted = roles - missing - {"selector-park"}  # the gearbox is manual
    assert len(wanted) > 40
    assert sorted(_roles_shown(week, roles)) == sorted(wanted)


def test_the_same_drive_is_done_once(week: netcheck.Plan) -> None:
    text = " ".join(_stages(week).values())
    for words in ("hold about 20 km/h", "select reverse for 3 s", "plug a trailer", "side lamps on for 3 s"):
        assert text.count(words) == 1


def test_what_several_parts_share_says_for_whom(week: netcheck.Plan) -> None:
    road = _stages(week)["PROVE: ON THE ROAD"]
    drive = road[road.index("vehicle-speed:") : road.index("cruise.state:")]
    for part in ("cruise-stalk", "park-distance", "head-unit", "reversing-camera", "media-socket"):
        assert part in drive
    standing = _stages(week)["PROVE: STANDING"]
    assert "For: wheel-buttons, park-distance, parking-switch, head-unit and media-socket." in standing


def test_lamps_faults_and_buttons_come_before_the_engine_and_nothing_is_pressed_meanwhile(
    week: netcheck.Plan,
) -> None:
    standing = _stages(week)["PROVE: STANDING"]
    told = [
        standing.index(words)
        for words in ("lamps of airbag", "fault memories", "hold the wheel's", "touch nothing", "=== GATE")
    ]
    assert told == sorted(told)


def test_bytes_to_write_are_whole_with_room_to_tick(week: netcheck.Plan) -> None:
    lines = _body(week)
    assert len(week.writes) == 5
    for write in week.writes:
        old, new = (" ".join(re.findall("..", digits)) for digits in (write.before, write.after))
        (at,) = (number for number, line in enumerate(lines) if f"old, to revert  {old}" in line)
        assert lines[at].endswith("read again: same [ ]")
        assert f"new             {new}" in lines[at + 1]
        assert lines[at + 1].endswith("reads back: same [ ]")


def test_it_can_be_worked_from_without_a_screen(week: netcheck.Plan) -> None:
    """The wire, the tap, who gives what to whom are on it; nothing that is done at a computer is."""
    text = " ".join(_stages(week).values())
    assert "tail-lamp plug, pin 3. Fuse: F18, 10 A" in text
    assert "On comfort (20-way connector behind the glovebox, pins 4 (high) and 14 (low))" in text
    assert "head-unit gives" in text
    assert "hdmi-in and media-in to media-socket" in text
    at_a_desk = re.findall(r"netcheck |--|\.toml|\[\[|message_id|a copy of", text)
    assert at_a_desk == ["netcheck "]  # "netcheck writes nothing to a vehicle"


def test_a_danger_is_told_once_at_the_stage_that_it_guards(week: netcheck.Plan) -> None:
    cautions = [step for step in week.checklist if step.caution]
    texts = [step.action.text for step in cautions if hasattr(step.action, "text")]
    assert len(texts) == len(set(texts)) > 15
    stages = _stages(week)
    assert "does not end cruise control at once" in stages["PROVE: ON THE ROAD"]
    assert "A spanner across the terminals" in stages["POWER DOWN, ONCE"]
    assert "Sensors miss things" in stages["HAND OVER"]


def test_what_cannot_work_at_the_same_time_is_told_at_the_handover(week: netcheck.Plan) -> None:
    text = _stages(week)["HAND OVER"]
    assert (
        "media-socket: Tell the driver: HDMI input and phone projection do not work at the same time: "
        "the display shows one source at a time."
    ) in text


# ---------------------------------------------------------------------------- the screen


@pytest.mark.parametrize("name", ["week", "stopped"])
def test_the_screen_text_is_short(name: str, request: pytest.FixtureRequest) -> None:
    text = plan_text(request.getfixturevalue(name), width=80)
    assert text.count("\n") <= 120
    assert overlong(text, 80) == []


def test_the_screen_text_leaves_what_is_shown_to_the_sheet_and_counts_notes(week: netcheck.Plan) -> None:
    text = plan_text(week, width=80)
    assert "Shown" not in text
    assert re.search(r"\n\d+ notes on the parts[^(]*\(-v shows\s+them\)\.\n", text)
    assert "razorbill_2021_eight_parts.job.toml --sheet" in text


def test_the_screen_text_says_what_comes_from_another_part_and_what_by_wire(week: netcheck.Plan) -> None:
    text = " ".join(plan_text(week, width=80).split())
    assert "5 more come from another part of this job. reverse-engaged comes by wire." in text
    assert "Changes: reverse-engaged by wire" in text
    assert "park.lamp from park-distance" in text


# ---------------------------------------------------------------------------- the head unit stopped


def test_a_stopped_head_unit_takes_its_camera_and_socket_with_it(stopped: netcheck.Plan) -> None:
    verdicts = {item.retrofit: item.verdict for item in stopped.items}
    assert verdicts["head-unit"] == "no-go"
    assert {name for name, verdict in verdicts.items() if verdict == "unproven"} == {
        "reversing-camera",
        "media-socket",
    }
    waits = {item.retrofit: {wait.resource: wait.givers for wait in item.waits} for item in stopped.items}
    head_unit = (("head-unit", Verdict.NO_GO),)
    assert waits["reversing-camera"] == {"video-in-cvbs": head_unit}
    assert waits["media-socket"] == {"hdmi-in": head_unit, "parked-interlock": head_unit}


def test_it_says_why(stopped: netcheck.Plan) -> None:
    text = " ".join(plan_text(stopped, width=80).split())
    assert "do not fit head-unit. reversing-camera and media-socket wait for it." in text
    assert "radio.aperture is 1-DIN; the part needs 2-DIN" in text
    assert "UNPROVEN: waits for head-unit (hdmi-in and parked-interlock)" in text
    assert "it hangs on head-unit, which cannot be fitted yet" in text
    assert "? hdmi-in head-unit 1 (NO-GO) → media-socket 1; waits for head-unit" in text


def test_what_hangs_on_the_stopped_part_is_not_on_the_sheet(stopped: netcheck.Plan) -> None:
    fitting = " ".join(text for title, text in _stages(stopped).items() if title in {"FIT", "HAND OVER"})
    assert "park-distance: " in fitting
    for name in ("head-unit", "reversing-camera", "media-socket"):
        assert f"{name}: " not in fitting
    proofs = " ".join(text for title, text in _stages(stopped).items() if title.startswith("PROVE"))
    assert "For: park-distance." in proofs
    for name in ("head-unit", "reversing-camera", "media-socket"):
        assert not re.search(rf"(For|From): [^.]*{name}|{name}: ", proofs)
    (held,) = (text for title, text in _stages(stopped).items() if title == "HELD BACK")
    assert re.search(r"\d+ steps held back until reversing-camera and media-socket may be fitted", held)


def test_the_wheel_is_coded_though_the_head_unit_wants_its_buttons_too(stopped: netcheck.Plan) -> None:
    """One change that both want is not held back; the gateway's block has one of the head unit alone."""
    text = _stages(stopped)["CODE"]
    assert "Write column" in text
    assert "Do not write gateway 0x2210" in text


# ---------------------------------------------------------------------------- the copy of a shipped part


def test_the_copy_differs_from_the_shipped_part_in_its_ids_alone() -> None:
    mine = load_retrofit(str(SAMPLE_LOGS / "tarrow_park_distance.retrofit.toml"))[0]
    shipped = load_retrofit("park-distance")[0]
    assert mine.model_copy(update={"supply": shipped.supply}) == shipped
    assert {role for supply in mine.supply for role in supply.roles} == set(shipped.supply[0].roles)
    assert all(supply.is_timed for supply in mine.supply)
