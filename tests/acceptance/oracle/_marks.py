"""Did the role have the marked state while it was marked, give or take what a watch allows?"""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from tests.acceptance.oracle._frames import SECOND, Tap, gaps_of, median, value_of
from tests.acceptance.small_jobs import Mark

if TYPE_CHECKING:
    from tests.acceptance.oracle._look import Look

WATCH = SECOND // 2
SHORT = SECOND // 5
BEST = ("none", "partly", "answered")


def answers(look: Look) -> list[str]:
    """For each mark of the captures with times: answered, partly or none."""
    found: dict[tuple[int, int], str] = {}
    for tap in look.timed:
        for number, mark in enumerate(tap.marks):
            if mark.role == look.role:
                key = id(tap.recording), number
                found[key] = max(found.get(key, "none"), _answer(look, tap, mark), key=BEST.index)
    return list(found.values())


def _answer(look: Look, tap: Tap, mark: Mark) -> str:
    delay = _delay(look, tap)
    partly = any(
        _is_in(look, mark, raw) and mark.start - WATCH <= time <= mark.end + WATCH + delay
        for stretch in _values(look, tap)
        for time, raw in stretch[1]
    )
    start = max(mark.start + WATCH + delay, Fraction(tap.frames[0].time))
    end = min(mark.end - WATCH, tap.frames[-1].time)
    if end - start < SHORT:
        return "answered" if partly else "none"
    if any(_holds(look, mark, stretch, start, end) for stretch in _values(look, tap)):
        return "answered"
    return "partly" if partly else "none"


def _delay(look: Look, tap: Tap) -> Fraction:
    """The usual time from one frame that carries the signal to the next, in this capture, at most 2 s."""
    gaps = [gap for stretch in tap.stretches for gap in gaps_of([f.time for f in stretch if look.carries(f)])]
    return min(median(gaps), Fraction(2 * SECOND)) if gaps else Fraction(0)


def _values(look: Look, tap: Tap) -> list[tuple[int, list[tuple[int, int]]]]:
    """For each awake stretch its end, and times and valid values in it."""
    return [
        (stretch[-1].time, [(f.time, raw) for f in stretch if (raw := look.valid_value(f)) is not None])
        for stretch in tap.stretches
    ]


def _holds(
    look: Look, mark: Mark, stretch: tuple[int, list[tuple[int, int]]], start: Fraction, end: Fraction
) -> bool:
    """Whether the role has the state from start to end, all in one awake stretch."""
    last, values = stretch
    before = [raw for time, raw in values if time <= start]
    inside = [raw for time, raw in values if start < time <= end]
    return last >= end and bool(before) and all(_is_in(look, mark, raw) for raw in [before[-1], *inside])


def _is_in(look: Look, mark: Mark, raw: int) -> bool:
    if mark.between:
        low, high = map(Fraction, mark.between)
        return low <= value_of(look.sig, raw) <= high
    if mark.state == "inactive":
        return raw not in look.raws_of("active")
    return raw in look.raws_of(mark.state)


def moves_unasked(look: Look, tap: Tap) -> bool:
    """Whether the active state came where no mark of this capture called for it."""
    marks = [mark for mark in tap.marks if mark.role == look.role]
    active, delay = look.raws_of("active"), _delay(look, tap)
    called = [
        (mark.start - WATCH, mark.end + WATCH + delay)
        for mark in marks
        if not mark.between and mark.state != "inactive" and look.raws_of(mark.state) & active
    ]
    return bool(marks) and any(
        raw in active and not any(start <= time <= end for start, end in called)
        for _, values in _values(look, tap)
        for time, raw in values
    )
