"""Is there room on the network for what the items will send."""

from __future__ import annotations

import pytest

from netcheck.report import finding_text, note_text
from tests.acceptance.cases import BODY_DBC, LAMPS, Case, conflicts, every, with_cycle
from tests.naive import naive_classic_wire

# A worst-case frame of s payload bytes has 55 + 10 s bits with an 11-bit id and 80 + 10 s with a 29-bit one.
LAMP_BITS = [len(naive_classic_wire(lamp, False, False, 1, b"\0")) for lamp in LAMPS]
NOW = 10 * sum(LAMP_BITS)  # bits a second: each lamp every 100 ms
OVERLOAD = {"part": ["overload"]}
FREE = {"part": []}


def lamps_and(folder, bitrate: int, **supply) -> Case:
    """The lamps every 100 ms on ``body``, and a part that sends there."""
    case = Case(folder)
    case.bitrate = bitrate
    case.item().supply("door.ajar", **supply)
    case.log()
    return case


@pytest.mark.parametrize(("short", "found"), [(0, FREE), (1, OVERLOAD)])
def test_more_than_80_percent_in_the_busiest_second_is_too_much(tmp_path, short, found):
    total = NOW + 10 * 160
    assert total * 5 % 4 == 0  # so that there is a bit rate of which it is 80 % exactly
    case = lamps_and(tmp_path, total * 5 // 4 - short, message_id=0x18DB0640, period_ms=100, length=8)
    assert conflicts(case) == found
    assert case.plan().verdict == ("no-go" if short else "go")


def test_without_a_period_or_a_length_the_load_is_not_judged(tmp_path):
    case = lamps_and(tmp_path, 4000, message_id=0x640, length=8)
    assert conflicts(case) == FREE
    assert any("is not known" in note_text(note) for note in case.plan().items[0].notes)


def test_a_network_that_was_not_captured_is_not_judged(tmp_path):
    case = Case(tmp_path)
    case.bitrate = 1000
    case.item().supply("door.ajar", message_id=0x640, period_ms=10, length=8)
    assert conflicts(case) == FREE


def fast_and(folder, **supply) -> Case:
    """A message of one byte every 10 ms and the lamps, at 20 kbit/s: 3.25 ms each in the worst case."""
    case = Case(folder)
    case.bitrate = 20_000
    case.item().supply("door.ajar", **{"period_ms": 1000, **supply})
    case.log().send(0x200, every(0.01), "00")
    return case


def notes_of(case: Case, can_id: int) -> list[str]:
    """The notes of the part that name an id."""
    texts = map(note_text, case.plan().items[0].notes)
    return [text for text in texts if f"0x{can_id:X}" in text]


@pytest.mark.parametrize(
    ("message_id", "length", "late"),
    [
        (0x050, 8, True),  # 3.25 blocking + 6.75 more urgent + 3.25 = 13.25 ms
        (0x050, 2, True),  # 3.25 + 3.75 + 3.25 = 10.25 ms
        (0x050, 1, False),  # 3.25 + 3.25 + 3.25 = 9.75 ms
        (0x640, 8, False),  # blocking 6.75 + 3.25 = 10 ms, and no more
    ],
)
def test_a_message_that_may_come_to_miss_its_period_is_a_note_and_no_conflict(
    tmp_path, message_id, length, late
):
    case = fast_and(tmp_path, message_id=message_id, length=length)
    assert conflicts(case) == FREE
    assert case.plan().verdict == "go"
    assert bool(notes_of(case, 0x200)) == late


def test_the_parts_own_message_may_miss_its_period_too(tmp_path):
    # 6.75 ms of its own after 3.25 ms each of the three lamps and of the faster one, twice: 23 ms
    for period, late in ((20, True), (50, False)):
        case = fast_and(tmp_path, message_id=0x7F0, period_ms=period, length=8)
        assert conflicts(case) == FREE
        assert bool(notes_of(case, 0x7F0)) == late


def test_the_dbcs_cycle_time_is_the_deadline(tmp_path):
    # Seen every 100 ms, but the DBC promises it every 10 ms.
    for cycle, late in ((14, False), (13, True)):
        case = Case(tmp_path)
        case.bitrate = 20_000
        case.dbc["body"] = with_cycle(BODY_DBC, LAMPS[0], cycle)
        case.item().supply("door.ajar", message_id=0x050, period_ms=1000, length=8)
        case.log()
        assert conflicts(case) == FREE
        assert bool(notes_of(case, LAMPS[0])) == late  # 3.25 + 6.75 + 3.25 = 13.25 ms


def test_a_message_that_was_late_before_is_not_held_against_the_part(tmp_path):
    case = fast_and(tmp_path, message_id=0x050, length=8)
    case.logs[0].send(0x100, every(0.1), "00" * 8)  # with it alone it is 6.75 + 3.25 + 3.25 ms
    assert conflicts(case) == FREE
    assert any("may miss" in note_text(note) for note in case.plan().items[0].notes)


def test_two_items_that_are_too_much_together_both_have_it(tmp_path):
    case = Case(tmp_path)
    case.bitrate = (NOW + 20 * 135 + 20 * 125) * 5 // 4 - 1
    case.item("one").supply("door.ajar", message_id=0x640, period_ms=50, length=8)
    case.item("two").supply("door.locked", message_id=0x650, period_ms=50, length=7)
    case.item("silent")
    case.log()
    assert conflicts(case) == {"one": ["overload"], "two": ["overload"], "silent": []}
    assert "two" in finding_text(case.plan().items[0].conflicts[0])


def test_an_item_that_sends_little_has_it_too(tmp_path):
    case = Case(tmp_path)
    case.bitrate = 8000
    case.item("one").supply("door.ajar", message_id=0x640, period_ms=20, length=8)
    case.item("two").supply("door.locked", message_id=0x650, period_ms=1000, length=1)
    case.item("three", "drive").supply("door.shut", message_id=0x650, period_ms=1000, length=1)
    case.log()
    assert conflicts(case) == {"one": ["overload"], "two": ["overload"], "three": []}


def test_a_capture_without_times_has_no_load(tmp_path):
    case = lamps_and(tmp_path, 1000, message_id=0x640, period_ms=100, length=8)
    assert conflicts(case) == OVERLOAD
    case.logs[0].is_timed = False
    assert conflicts(case) == FREE


def test_what_is_replaced_makes_room_wherever_the_item_is_wired(tmp_path):
    total = NOW + 20 * 135
    for network in ("body", "drive"):
        case = Case(tmp_path)
        case.role("lamp.one", "body Lamp1 On1")
        case.bitrate = total * 5 // 4 - 100
        case.item().supply("door.ajar", message_id=0x640, period_ms=50, length=8)
        case.item("remover", network).replace(role="lamp.one")
        case.log()
        assert conflicts(case) == {"part": [], "remover": []}
        case.items.pop()
        assert conflicts(case) == OVERLOAD
