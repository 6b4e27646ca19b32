"""Everything that is seen of one entry of a role, and the rules for it."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

from tests.acceptance.oracle._frames import (
    Taps,
    awake_periods,
    has_limits,
    is_of,
    page_is_selected,
    raw_of,
    value_of,
    within_limits,
)
from tests.acceptance.small_jobs import Entry, Frame, Job, Mark, Recording

REACTION, BEFORE, AFTER, LONG = 500_000, 200_000, 500_000, 500_000  # of marks, microseconds


class Look:
    """Everything that one entry's network shows of it."""

    def __init__(self, job: Job, taps: Taps, role: str, entry: Entry) -> None:
        self.role, self.entry = role, entry
        messages = [msg for msg in job.networks[entry.network] if msg.name == entry.message]
        self.msg = messages[0] if messages else None
        self.sig = self.msg.signal(entry.signal) if self.msg else None
        self.counter = self.msg.signal(entry.counter) if self.msg else None
        self.is_defined = self.sig is not None and (entry.counter is None or self.counter is not None)
        self.taps = taps.of[entry.network]
        if not self.is_defined:
            return
        self.frames = [f for _, frames in self.taps for f in frames if is_of(f, self.msg)]
        self.values = [raw_of(self.sig, f.data) for f in self.frames if self.carries(f)]
        self.told = [raw for raw in self.values if raw not in entry.not_available]
        self.valid = [raw for raw in self.told if within_limits(self.sig, raw)]

    def carries(self, frame: Frame) -> bool:
        return (
            is_of(frame, self.msg)
            and raw_of(self.sig, frame.data) is not None
            and page_is_selected(self.msg, self.sig, frame.data)
        )

    def valid_value(self, frame: Frame) -> int | None:
        if not self.carries(frame):
            return None
        raw = raw_of(self.sig, frame.data)
        fits = raw not in self.entry.not_available and within_limits(self.sig, raw)
        return raw if fits else None

    def raws_of(self, state: str | int) -> set[int]:
        if isinstance(state, int):
            return {state}
        if state == "active":
            return {raw for one in self.entry.active for raw in self.raws_of(one)}
        return {raw for raw, label in self.sig.labels.items() if label == state}

    # One method a reason: whether it holds.

    def is_absent(self) -> bool:
        return not self.frames

    def is_short(self) -> bool:
        return 2 * sum(raw_of(self.sig, f.data) is None for f in self.frames) > len(self.frames)

    def is_not_available(self) -> bool:
        return not self.told

    def is_out_of_range(self) -> bool:
        return 100 * (len(self.told) - len(self.valid)) > len(self.told)

    def is_too_slow(self, max_gap_ms: str | None) -> bool:
        if max_gap_ms is None:
            return False
        gaps = []
        for _, frames in self.taps:
            for period in awake_periods(frames):
                times = [f.time for f in period if self.carries(f)]
                points = [period[0].time, *times, period[-1].time]
                gaps += [after - before for before, after in pairwise(points)]
        rank = -(-99 * len(gaps) // 100)
        return sorted(gaps)[rank - 1] > Fraction(max_gap_ms) * 1000

    def counter_steps(self) -> list[tuple[int, int]]:
        steps = []
        for _, frames in self.taps:
            for period in awake_periods(frames):
                of_message = [f for f in period if is_of(f, self.msg)]
                counts = [
                    raw_of(self.counter, f.data)
                    for f in of_message
                    if page_is_selected(self.msg, self.counter, f.data)
                ]
                held = [count for count in counts if count is not None]
                steps += pairwise(held)
        return steps

    def is_frozen(self) -> bool:
        steps = self.counter_steps() if self.counter else []
        return 2 * sum(one == other for one, other in steps) > len(steps)

    def jumps(self) -> bool:
        steps = self.counter_steps() if self.counter else []
        if not steps:
            return False
        modulus = 1 << self.counter.width
        high = (Fraction(self.counter.high) - Fraction(self.counter.offset)) / Fraction(self.counter.factor)
        if has_limits(self.counter) and high + 1 < modulus:
            modulus = high + 1
        return 100 * sum((other - one - 1) % modulus != 0 for one, other in steps) > len(steps)

    def marks(self) -> list[tuple[Recording, Mark]]:
        recordings = [recording for recording, _ in self.taps]
        different = [r for n, r in enumerate(recordings) if not any(r is other for other in recordings[:n])]
        return [(r, mark) for r in different for mark in r.marks if mark.role == self.role]

    def has_no_answer(self) -> bool:
        return not all(self.is_answered(*marked) for marked in self.marks())

    def is_answered(self, recording: Recording, mark: Mark) -> bool:
        """Judged on what lies inside the recording; its end may make a long mark a short one."""
        start, end = mark.start, min(mark.end, recording.frames[-1].time)
        timed = [
            (f.time, raw)
            for owner, frames in self.taps
            if owner is recording
            for f in frames
            if (raw := self.valid_value(f)) is not None
        ]
        if end - start >= LONG:
            inside = [raw for time, raw in timed if start + REACTION <= time <= end]
            return bool(inside) and all(self.is_in(mark, raw) for raw in inside)
        return any(self.is_in(mark, raw) for time, raw in timed if start - BEFORE <= time <= end + AFTER)

    def is_in(self, mark: Mark, raw: int) -> bool:
        if mark.between:
            low, high = map(Fraction, mark.between)
            return low <= value_of(self.sig, raw) <= high
        return raw in self.raws_of(mark.state)

    def moves_unasked(self) -> bool:
        if not self.marks():
            return False
        active = self.raws_of("active")
        for recording, frames in self.taps:
            called = [
                (mark.start - BEFORE, mark.end + AFTER)
                for mark in recording.marks
                if mark.role == self.role and not mark.between and self.raws_of(mark.state) & active
            ]
            for frame in frames:
                if self.valid_value(frame) in active and not any(a <= frame.time <= b for a, b in called):
                    return True
        return False

    def moves(self) -> bool:
        if self.entry.active:
            active = self.raws_of("active")
            return len({raw in active for raw in self.valid}) == 2
        return len(set(self.valid)) > 1

    def is_present(self, max_gap_ms: str | None) -> bool:
        return bool(
            self.taps
            and not self.is_absent()
            and not self.is_short()
            and not self.is_not_available()
            and not self.is_out_of_range()
            and not self.is_too_slow(max_gap_ms)
        )

    def evidence(self, max_gap_ms: str | None) -> str:
        if not self.is_defined:
            return "none"
        if not self.is_present(max_gap_ms):
            return "defined"
        if not self.moves():
            return "present"  # also where every mark is answered: what never moved shows nothing
        is_answered = self.marks() and not self.has_no_answer() and not self.moves_unasked()
        return "answers" if is_answered else "moves"
