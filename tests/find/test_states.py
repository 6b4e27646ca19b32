"""States by hand: what follows marks, what does not, and what is said of marks that cannot be used."""

from __future__ import annotations

from functools import partial

import pytest

from netcheck.find import (
    CandidateKind,
    FindMark,
    MarkNote,
    MarkProblem,
    NextKind,
    Search,
    find_states,
    movements_of,
)
from tests.captures import Frame, hand_made
from tests.find.scoring import ROLE, absent, buttons, run, states, summary

PRESSES = ((5.0, 7.0), (11.0, 14.0), (19.0, 20.0))
MARKS = [FindMark(ROLE, "active", begin + 0.2, end + 0.3) for begin, end in PRESSES]


def pressed(time: float, presses: tuple[tuple[float, float], ...] = PRESSES) -> bool:
    return any(begin <= time < end for begin, end in presses)


def search(*signals, marks=MARKS, seconds=30.0, quiet=(), role=ROLE, **how) -> Search:
    """signals: id, period and payload at a time; a payload of None is no frame."""
    return find_states(moves(*signals, seconds=seconds), marks, role, quiet=quiet, **how)


def moves(*signals, seconds=30.0, file="x.log"):
    frames = [Frame(0x7F, bytes([0]), time_ns=0), Frame(0x7F, bytes([0]), time_ns=round(seconds * 1e9))]
    for number, (can_id, period, payload) in enumerate(signals):
        for step in range(int(seconds / period)):
            time = step * period + 0.001 * (number + 1)
            if payload(time) is not None:
                frames.append(Frame(can_id, payload(time), time_ns=round(time * 1e9)))
    frames.sort(key=lambda frame: frame.time_ns)
    return movements_of(file, ("can0",), [hand_made(frames)])


def bit(number: int, active) -> object:
    return lambda time: (int(active(time)) << number).to_bytes(4, "little")


def test_a_bit_that_follows_is_first_and_clear():
    found = search((0x123, 0.05, bit(21, pressed)), (0x200, 0.02, lambda t: bytes([int(t * 50) & 0xFF])))
    best = found.candidates[0]
    assert (best.field.frame_id.can_id, best.field.byte, best.field.bit, best.field.width) == (0x123, 2, 5, 1)
    assert (best.active, best.rest, best.followed, best.matched, best.edges) == ((1,), (0,), 3, 6, 6)
    assert best.unasked == ()
    assert found.separated
    assert found.next.kind is NextKind.USE


def test_a_bit_that_is_active_low():
    best = search((0x123, 0.05, bit(3, lambda t: not pressed(t)))).candidates[0]
    assert (best.field.byte, best.field.bit, best.active, best.rest) == (0, 3, (0,), (1,))


def test_a_press_without_a_note_is_told_with_its_time():
    extra = (*PRESSES, (24.0, 26.0))
    best = search((0x123, 0.05, bit(0, lambda t: pressed(t, extra)))).candidates[0]
    assert [(round(a, 1), round(b, 1)) for a, b in best.unasked] == [(24.0, 26.0)]


def test_copies_are_one_row_and_what_follows_later_is_its_own():
    found = search(
        (0x300, 0.1, bit(5, pressed)),
        (0x123, 0.02, bit(9, pressed)),
        (0x400, 0.02, bit(1, lambda t: pressed(t - 0.4))),
    )
    first, second = found.candidates[:2]
    assert first.field.frame_id.can_id == 0x123
    assert [copy.frame_id.can_id for copy in first.copies] == [0x300]
    assert second.field.frame_id.can_id == 0x400
    assert second.cause is not None
    assert second.cause.field == first.field
    assert second.cause.delay == pytest.approx(0.4, abs=0.05)
    assert second.score < first.score


def test_what_comes_sometimes_later_and_sometimes_earlier_is_no_effect():
    """Two controllers that brake together: neither causes the other."""
    loose = (5.15, 7.0), (10.85, 14.1), (19.1, 19.9)
    found = search((0x123, 0.02, bit(9, pressed)), (0x400, 0.02, bit(1, lambda t: pressed(t, loose))))
    assert {each.field.frame_id.can_id for each in found.candidates[:2]} == {0x123, 0x400}
    assert [each.cause for each in found.candidates] == [None, None]


def test_a_blinking_lamp_is_told_by_its_envelope():
    spans = (5.0, 9.0), (12.0, 17.0), (20.0, 24.0)
    marks = [FindMark(ROLE, "active", *span) for span in spans]
    lamp = search((0x123, 0.02, bit(0, lambda t: pressed(t, spans) and t % 0.7 < 0.35)), marks=marks)
    assert lamp.candidates[0].kind is CandidateKind.BLINKS
    assert lamp.candidates[0].matched == 6


def test_a_message_that_comes_only_while_active():
    found = search((0x123, 0.05, lambda t: b"\x01\x02" if pressed(t) else None))
    assert found.candidates[0].kind is CandidateKind.PRESENCE
    assert found.candidates[0].matched >= 5


def test_a_message_that_is_sent_at_changes_is_told():
    """It comes every second; in one capture at once, too, when the bit changes."""
    edges = [time for span in PRESSES for time in span]
    found = []
    for extra in ([], edges):
        times = sorted([*(n + 0.4 for n in range(29)), *extra])
        frames = [Frame(0x123, bytes([pressed(time)]), time_ns=round(time * 1e9)) for time in times]
        ends = [Frame(0x7F, bytes([0]), time_ns=round(time * 1e9)) for time in (0.0, 30.0)]
        capture = hand_made([ends[0], *frames, ends[1]])
        found.append(find_states(movements_of("x.log", ("can0",), [capture]), MARKS, ROLE).candidates[0])
    assert [each.field.frame_id.can_id for each in found] == [0x123, 0x123]
    assert [each.at_changes for each in found] == [False, True]


def test_what_moved_in_a_quiet_capture_is_told_and_behind():
    still = moves((0x123, 0.05, bit(0, lambda t: t % 3 < 1)), file="quiet.log")
    late = bit(0, lambda t: pressed(t - 0.1))
    found = search((0x123, 0.05, bit(0, pressed)), (0x222, 0.05, late), quiet=[still])
    assert found.candidates[0].field.frame_id.can_id == 0x222
    assert found.candidates[1].in_quiet == {"quiet.log": 10}


def test_the_code_of_a_button_in_a_shared_field():
    up, down, both = ((5.0, 6.0), (12.0, 13.0)), ((8.0, 9.0), (15.0, 16.0)), ((18.0, 19.0), (22.0, 23.5))
    code = lambda t: 1 * pressed(t, up) + 2 * pressed(t, down) + 3 * pressed(t, both)  # noqa: E731
    worked = {"a": up, "b": down, "c": both}
    marks = [FindMark(role, "active", *span) for role, spans in worked.items() for span in spans]
    for role, value in (("a", 1), ("b", 2), ("c", 3)):
        best = search((0x123, 0.02, lambda t: bytes([code(t) << 4])), marks=marks, role=role).candidates[0]
        assert (best.field.byte, best.field.bit, best.field.width, best.active) == (0, 4, 2, (value,))


def test_rows_of_marks_count_as_one():
    rows = [FindMark(ROLE, "active", 5 + k / 10, 5.09 + k / 10) for k in range(20)] + MARKS[1:]
    found = search((0x123, 0.05, bit(0, pressed)), marks=rows)
    assert len(found.asked.active) == 3
    assert MarkNote.ROWS_JOINED in found.asked.notes
    assert found.candidates[0].matched == 6


def test_one_mark_is_never_enough():
    found = search((0x123, 0.05, bit(0, lambda t: 5 <= t < 7)), marks=MARKS[:1])
    assert found.candidates[0].score < 0.9
    assert not found.separated
    assert MarkNote.ONE_ONLY in found.asked.notes


@pytest.mark.parametrize(
    ("marks", "problem"),
    [
        ([], MarkProblem.NONE_OF_ROLE),
        ([FindMark("other", "active", 1, 2)], MarkProblem.NONE_OF_ROLE),
        ([FindMark(ROLE, "active", 40, 42)], MarkProblem.OUTSIDE),
        ([FindMark(ROLE, "active", 0, 60)], MarkProblem.COVERS_ALL),
    ],
)
def test_marks_that_cannot_be_used(marks, problem):
    found = search((0x123, 0.05, bit(0, pressed)), marks=marks)
    assert found.problem is problem
    assert found.candidates == ()


@pytest.mark.parametrize(
    ("more", "note", "count"),
    [
        (FindMark(ROLE, "active", 6.5, 8.5), MarkNote.OVERLAP, 3),
        (FindMark(ROLE, "active", 27, 45), MarkNote.CLIPPED, 4),
        (FindMark(ROLE, "active", 45, 47), MarkNote.LEFT_OUT, 3),
    ],
)
def test_marks_that_are_used_in_part_are_told(more, note, count):
    found = search((0x123, 0.05, bit(0, pressed)), marks=[*MARKS, more])
    assert note in found.asked.notes
    assert len(found.asked.active) == count
    assert found.candidates[0].field.frame_id.can_id == 0x123


def test_nothing_moves():
    found = search((0x123, 0.05, bit(0, lambda _: True)))
    assert found.candidates == ()
    assert found.next.kind is NextKind.NO_MOVEMENT


def test_states_are_found_in_traffic_of_open_dbcs():
    """A small part of ``python -m tests.find.scoring``, with margin, in captures of fewer messages."""
    found = summary(run(partial(states, most=20), 8))
    assert found["first"] >= 0.8
    assert found["right of those scored 0.9"] >= 0.9


def test_nothing_is_claimed_where_the_role_is_not_there():
    assert summary(run(partial(absent, most=20), 8))["runs with one scored 0.9"] == 0


def test_codes_of_four_buttons():
    assert summary(run(partial(buttons, most=12), 4))["first"] >= 0.6
