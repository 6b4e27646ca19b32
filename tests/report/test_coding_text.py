"""The coding report, from hand-built plans."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from netcheck.coding import Held, Readback, Wanted, compare_readback, plan_coding
from netcheck.files import LoadedJob, LoadedVehicle
from netcheck.plan import Plan
from netcheck.report import CodingCase, coding_json, coding_text
from netcheck.report._coding_words import HELD_WORDS
from netcheck.report._finding_words import clash_text
from netcheck.verdict import CodingConflict, ItemResult, Verdict
from tests.coding.vehicles import vehicle, want

BEFORE = {("gateway", 0x0600): bytes.fromhex("03001F00")}
PARK = want("park_distance_module", "fitted")


def case(
    wanted: list[Wanted],
    *,
    verdicts: tuple[Verdict, ...] = (Verdict.GO_WITH_CHANGES, Verdict.GO_WITH_CHANGES),
    before: dict[tuple[str, int], bytes] = BEFORE,
    after: dict[tuple[str, int], bytes] | None = None,
) -> CodingCase:
    model = vehicle()
    job = LoadedJob(Path("van.job.toml"), "van", 2020, LoadedVehicle(Path("v.toml"), model), (), (), ())
    coding = plan_coding(model, 2020, before, wanted)
    items = []
    for index, verdict in enumerate(verdicts):
        rows = tuple(row for entry, row in zip(wanted, coding.rows, strict=True) if entry.item == index)
        conflicts = tuple(
            CodingConflict(clash) for clash in coding.clashes if index in (clash.first, clash.second)
        )
        items.append(ItemResult(f"part-{index}", "", "comfort", verdict, (), rows, conflicts, ()))
    plan = Plan("van", model.name, 2020, max(verdicts), tuple(items), coding.writes, (), ())
    back: Readback | None = None
    if after is not None:
        back = compare_readback(model, 2020, coding.rows, coding.writes, before, after)
    return CodingCase(job, plan, back, "after.toml" if back else "")


def test_the_whole_text() -> None:
    assert coding_text(case([PARK, want("market", 2, item=1)])) == (
        """\
Coding for van: Skerry 240, model year 2020

TO DO: 1 block to write.

── Before you write ────────────────────────────────────────────────────────────
! netcheck writes nothing to a vehicle. Use your own authorised equipment,
  operated by someone licensed for it where that is required. The maker's
  instructions and local rules come first.
! Vehicle stationary and secured. Connect a battery support unit: a module that
  loses its supply during a write may not start again.
! Set the ignition as the maker says for that module. Switch off everything else
  that draws current.
! Read each block again and note its bytes. If they differ from the old bytes
  below, stop: put the new readout into the job file and run this again.
! Write one whole block at a time, and read it back before the next.

── To write ────────────────────────────────────────────────────────────────────
Bytes count from 0; bit 0 is the least significant of its byte.

1. gateway block 0x0600
  old, to revert  03 00 1F 00
  new             02 00 3F 00
                  ^^    ^^
  byte 0: 03 → 02, market: 3 → mainland
    for part-1: because
  byte 2 bit 5: 0 → 1, park_distance_module: absent → fitted
    for part-0: because
  byte 2 bits 5–6: 00 → 01, fit_pattern: 0 → 1
    shares its bits with another field of this write

── Afterwards ──────────────────────────────────────────────────────────────────
- Check every module that was written for new stored faults. Read each fault
  before you clear it.
- Read the blocks again into a readouts file and compare: netcheck coding
  van.job.toml --readback FILE
- To revert, write the old bytes of each block, last block first.
"""
    )


def test_a_block_of_a_part_that_is_not_to_be_fitted() -> None:
    for verdict, text in [
        (Verdict.NO_GO, "! Do not write this block: it contains a change for part-1, which is no-go."),
        (Verdict.UNPROVEN, "! Wait: this block contains a change for part-1, which is unproven."),
    ]:
        found = case([PARK, want("market", 2, item=1)], verdicts=(Verdict.GO_WITH_CHANGES, verdict))
        assert text in coding_text(found)
        assert "NOT YET: 1 block to write, held back." in coding_text(found)
        assert text[2:] in coding_json(found)["writes"][0]["cautions"][0]


def test_every_state_of_a_wanted_value_has_its_word() -> None:
    assert set(HELD_WORDS) == set(Held)
    assert len({word for word, _ in HELD_WORDS.values()}) == len(Held)


def test_a_clash_in_words() -> None:
    wanted = [
        want("park_distance_module", "absent", item=1),
        want("park_distance_module", "fitted", item=0, unlock="park.lamp"),
    ]
    (clash,) = plan_coding(vehicle(), 2020, BEFORE, wanted).clashes
    assert clash_text(clash) == (
        "gateway 0x0600 park_distance_module: "
        "part-0 wants 'fitted' (unlocks park.lamp), part-1 wants 'absent'"
    )
    overlap = [want("fit_pattern", 3, item=0), want("park_distance_module", 0, item=1)]
    (clash, *_) = plan_coding(vehicle(), 2020, BEFORE, overlap).clashes
    assert clash_text(clash) == (
        "gateway 0x0600: fit_pattern and park_distance_module share bits: "
        "part-0 wants 3 for fit_pattern, part-1 wants 'absent' for park_distance_module"
    )


def test_what_unlocks_a_role_says_so() -> None:
    found = coding_text(case([want("market", 2, unlock="reverse-engaged")]))
    assert "    for part-0, unlocks reverse-engaged\n" in found


def test_a_clash_comes_first_and_is_said_once() -> None:
    found = coding_text(
        case([want("market", 1), want("market", 2, item=1)], verdicts=(Verdict.NO_GO, Verdict.NO_GO))
    )
    assert "BLOCKED: nothing can be written; first resolve what blocks it." in found
    clash = "part-0 wants 'island', part-1 wants 'mainland'. Decide which of the two is fitted,"
    assert " ".join(found.split()).count(clash) == 1


AFTER = {("gateway", 0x0600): bytes.fromhex("03003F04")}


def test_a_readback_with_foreign_bits() -> None:
    found = coding_text(case([PARK], after=AFTER))
    assert found.startswith(
        """\
Coding for van: Skerry 240, model year 2020

DOES NOT HOLD: 1 of 1 wanted value holds; other bits changed too.

── Read back: after.toml ───────────────────────────────────────────────────────
  holds      gateway 0x0600 park_distance_module is fitted

  X gateway 0x0600: bits changed that this job does not change
  expected  03 00 3F 00
  read      03 00 3F 04
                     ^^
  byte 3 bit 2: 0 → 1, no field of the vehicle file
  to revert the whole block: 03 00 1F 00
Do not go on: find out why other bits changed, or revert the block and read it
again.

── Before you write"""
    )


def test_a_readback_that_holds_needs_no_cautions_any_more() -> None:
    found = coding_text(case([PARK], after={("gateway", 0x0600): bytes.fromhex("03003F00")}))
    assert "HOLDS: 1 of 1 wanted value holds; no other bit changed in the blocks that were read." in " ".join(
        found.split()
    )
    assert "Before you write" not in found
    assert "old, to revert  03 00 1F 00" in found


@pytest.mark.parametrize("width", [20, 40, 57, 80, 120])
@pytest.mark.parametrize("after", [None, AFTER])
def test_no_line_is_too_long_and_colour_adds_nothing(
    width: int, after: dict[tuple[str, int], bytes] | None
) -> None:
    serial = {("gateway", 0x0610): bytes(6)}
    wanted = [
        PARK,
        want("serial", 7),
        want("park_display", "on", module="cluster", item=1),
        want("horn", 1, item=1),
    ]
    found = case(wanted, before={**BEFORE, **serial}, after=after)
    plain = coding_text(found, width=width)
    assert max(map(len, plain.splitlines())) <= max(width, 40)
    coloured = coding_text(found, width=width, colour=True)
    assert coloured != plain
    assert re.sub(r"\x1b\[[0-9;]*m", "", coloured) == plain


def test_a_long_block_is_shown_in_lines_with_their_first_byte() -> None:
    from netcheck.report._page import Page
    from netcheck.report._states import write_states

    page = Page(80)
    write_states(page, ("old, the way back", "00" * 21), ("new", "00" * 17 + "01" + "00" * 3))
    assert page.render(colour=False) == (
        "  old, the way back  byte 0   00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00\n"
        "  new                         00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00\n"
        "  old, the way back  byte 16  00 00 00 00 00\n"
        "  new                         00 01 00 00 00\n"
        "                                 ^^\n"
    )


@pytest.mark.parametrize("length", [1, 3, 5, 6, 19, 20])
def test_a_short_block_is_one_line(length: int) -> None:
    from netcheck.report._page import Page
    from netcheck.report._states import write_states

    page = Page(80)
    write_states(page, ("old, the way back", "FF" * length), ("new", "FF" * length))
    assert page.render(colour=False).count("\n") == 2


def test_json_is_plain_values() -> None:
    found = coding_json(case([PARK, want("serial", 7)], after=AFTER))
    assert json.loads(json.dumps(found)) == found
    assert found["readback"]["blocks"][0]["foreign"] == [
        {
            "byte": 3,
            "bytes": 1,
            "bit": 2,
            "width": 1,
            "before": 0,
            "after": 1,
            "field": None,
            "from": None,
            "to": None,
        }
    ]
