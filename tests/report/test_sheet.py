"""The sheet for paper: pages, gates, boxes, bytes and what is held back. All data is invented."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from netcheck.coding import Write
from netcheck.files import VehicleIdentity, Wire
from netcheck.plan import Plan
from netcheck.report import sheet_text, step_text
from netcheck.verdict import Verdict
from netcheck.work import Connection, Exercises, Prove, Step, WriteBlock
from tests.report.examples import EXAMPLES
from tests.report.layout import overlong

IDENTITY = VehicleIdentity(
    vin="ZZZ24000000000017", registration="SK 240", odometer_km=48210, technician="M. Ro"
)


def paper(plan: Plan) -> list[str]:
    return sheet_text(plan).split("\f")


def words(plan: Plan) -> str:
    return " ".join(sheet_text(plan).split())


@pytest.mark.parametrize("name", EXAMPLES)
def test_each_page_fits_the_paper(name: str) -> None:
    for page in paper(EXAMPLES[name]()):
        assert overlong(page, 80) == []
        assert page.count("\n") == 66


@pytest.mark.parametrize("name", EXAMPLES)
def test_each_page_names_the_vehicle_and_its_number(name: str) -> None:
    found = paper(replace(EXAMPLES[name](), identity=IDENTITY))
    for number, page in enumerate(found, 1):
        assert "VIN ZZZ24000000000017" in page
        assert "Plate SK 240" in page
        assert page.splitlines()[0].endswith(f"page {number} of {len(found)}")


def test_what_is_not_known_of_the_vehicle_leaves_room() -> None:
    assert f"VIN {'_' * 17}" in sheet_text(EXAMPLES["go"]())


def test_steps_are_numbered_through() -> None:
    numbers = re.findall(r"^\[ \] (\d+)", sheet_text(EXAMPLES["go_with_changes"]()), flags=re.MULTILINE)
    assert [int(number) for number in numbers] == list(range(1, len(numbers) + 1))
    assert len(numbers) > 10


def test_gates_stand_in_their_order_each_with_a_signature() -> None:
    gates = re.findall(r"=== GATE: (.*?) Sign ________", words(EXAMPLES["go_with_changes"]()))
    assert [gate.split(",")[0] for gate in gates] == [
        "The plan says go or go with changes for each part to be",
        "Every plug",
        "Every block reads back as written: only then begin the",
        "Airbag lamp out",
    ]


def test_old_bytes_stand_over_new_ones_and_are_not_broken() -> None:
    plan = EXAMPLES["go_with_changes"]()
    lines = sheet_text(plan).splitlines()
    for write in plan.writes:
        old = " ".join(re.findall("..", write.before))
        (at,) = (number for number, line in enumerate(lines) if f"old, to revert  {old}" in line)
        assert lines[at].endswith("read again: same [ ]")
        assert lines[at + 1].endswith("reads back: same [ ]")
        new = lines[at + 1].removesuffix("reads back: same [ ]").split("new")[1]
        assert new.split() == re.findall("..", write.after)


def test_a_long_block_is_broken_at_the_same_byte_in_old_and_new() -> None:
    plan = EXAMPLES["go_with_changes"]()
    (step, *_) = (step for step in plan.checklist if isinstance(step.action, WriteBlock))
    before, after = "00" * 40, "00" * 39 + "01"
    long = replace(step.action, write=Write("gateway", "0x2210", before, after))  # type: ignore[type-var]
    lines = sheet_text(replace(plan, checklist=(replace(step, action=long),))).splitlines()
    pairs = [(line, lines[at + 1]) for at, line in enumerate(lines) if "old, to revert" in line]
    assert len(pairs) > 1
    for old, new in pairs:
        assert len(re.findall(r"\b00\b", old.split("byte")[1])) == len(re.findall(r"\b0[01]\b", new))


def test_each_of_several_in_turn_has_a_box() -> None:
    group = Exercises(("wheel.next", "wheel.mute"), "Hold the (each in turn) button", "active")
    step = Step("standing", ("park-distance",), Prove(group))
    text = sheet_text(replace(EXAMPLES["go"](), checklist=(step,)))
    assert "[ ] 1  wheel: Hold the (each in turn) button." in text
    assert "       [ ] next  [ ] mute\n" in text


def test_what_exercises_share_stands_above_them_on_each_page() -> None:
    steps = tuple(
        Step("standing", ("park-distance",), Prove(Exercises((f"role-{n}",), f"Chocks on: do {n}", "active")))
        for n in range(70)
    )
    found = paper(replace(EXAMPLES["go"](), checklist=steps))
    assert [page.count("\nChocks on:\n") for page in found] == [0, 1, 1]
    assert "role-3: Do 3." in found[1] or "role-3: do 3." in found[1]


def test_nothing_is_printed_that_has_to_wait() -> None:
    plan = EXAMPLES["unproven"]()
    assert "GATE: The plan says go" in words(plan)
    assert "── PROVE" not in words(plan)
    assert re.search(r"\d+ steps held back until park-distance may be fitted", words(plan))
    assert "held back while the verdict is no-go" not in words(EXAMPLES["no_go"]())


def test_what_is_connected_to_what() -> None:
    wire = Wire.model_validate({"role": "reverse-engaged", "from": "tail-lamp plug pin 3"})
    links = (
        Connection("park-distance", "comfort", "pins 4 and 14", (wire,)),
        Connection("radio", None, "", ()),
    )
    plan = replace(EXAMPLES["go"](), connections=links)
    text = words(plan)
    assert "On comfort (pins 4 and 14): park-distance" in text
    assert "park-distance: reverse-engaged by wire from tail-lamp plug pin 3" in text


def test_it_ends_with_signatures() -> None:
    page = paper(EXAMPLES["go"]())[-1]
    assert [page.count(label) for label in ("Work done by", "Checked by", "Handed over to")] == [1, 1, 1]
    assert "Handed over to" not in sheet_text(EXAMPLES["no_go"]())
    assert EXAMPLES["no_go"]().verdict is Verdict.NO_GO


def test_what_is_done_at_a_desk_is_not_on_it() -> None:
    plan = EXAMPLES["no_go"]()
    assert any(step_text(step.action).startswith("Ask the part's maker") for step in plan.checklist)
    assert "Ask the part's maker" not in words(plan)
