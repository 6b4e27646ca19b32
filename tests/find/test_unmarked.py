"""A search without marks, by hand: what moved here and in no quiet capture."""

from __future__ import annotations

from netcheck.find import CandidateKind, MarkNote, MarkProblem, NextKind, find_moved, movements_of
from tests.captures import Frame, hand_made
from tests.find.test_states import bit, moves, pressed


def search(*signals, still=()):
    quiet = moves(*still, file="quiet.log")
    return find_moved(moves(*signals), "reverse-engaged", [quiet])


def test_what_moved_only_here_comes_with_its_times():
    lamp = bit(2, lambda t: t % 6 < 2)
    counter = (0x300, 0.05, lambda t: bytes([round(t / 0.05) & 0xFF]))
    found = search(
        (0x123, 0.05, bit(5, pressed)), (0x200, 0.05, lamp), counter,
        still=((0x123, 0.05, bit(5, lambda _: False)), (0x200, 0.05, lamp), counter),
    )  # fmt: skip
    (best,) = found.candidates
    assert (best.field.frame_id.can_id, best.field.byte, best.field.bit) == (0x123, 0, 5)
    assert (best.active, best.rest) == ((1,), (0,))
    assert [(round(a), round(b)) for a, b in best.periods] == [(5, 7), (11, 14), (19, 20)]


def test_none_ever_stands_clear():
    found = search((0x123, 0.05, bit(5, pressed)), still=((0x123, 0.05, bit(5, lambda _: False)),))
    assert found.candidates[0].score <= 0.5
    assert not found.separated
    assert (found.next.kind, found.asked.notes) == (NextKind.MARKS, (MarkNote.NO_MARKS,))


def test_a_press_is_before_what_changed_once_and_before_what_began_with_the_recording():
    quiet = [(can_id, 0.05, bit(0, lambda _: False)) for can_id in (0x100, 0x200, 0x300)]
    found = search(
        (0x100, 0.05, bit(0, lambda t: t > 12)),
        (0x200, 0.05, bit(0, pressed)),
        (0x300, 0.05, bit(0, lambda t: t < 1)),
        still=quiet,
    )
    assert [each.field.frame_id.can_id for each in found.candidates] == [0x200, 0x100, 0x300]


def test_an_id_that_comes_only_here():
    found = search((0x123, 0.05, lambda t: b"\1" if 5 <= t < 9 else None), (0x200, 0.1, bit(0, lambda _: 1)))
    assert found.candidates[0].kind is CandidateKind.PRESENCE
    assert found.candidates[0].field.frame_id.can_id == 0x123


def test_nothing_moved_only_here():
    lamp = (0x200, 0.05, bit(2, lambda t: t % 6 < 2))
    found = search(lamp, still=(lamp,))
    assert (found.candidates, found.next.kind) == ((), NextKind.NOTHING_HERE)


def test_without_times_it_is_told():
    frames = [Frame(0x123, bytes([n & 1]), time_ns=n * 1_000_000) for n in range(50)]
    untimed = movements_of("x.log", ("can0",), [hand_made(frames)])
    untimed = type(untimed)(untimed.file, untimed.frames, untimed.seconds, False, untimed.messages)
    found = find_moved(untimed, "reverse-engaged", [moves()])
    assert (found.candidates, found.problem) == ((), MarkProblem.NO_TIMES)
