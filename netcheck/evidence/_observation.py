"""What was seen of one signal: counts that add up over chunks, channels and captures."""

from __future__ import annotations

from dataclasses import field, replace
from typing import Final

from netcheck.network import Gaps
from netcheck.records import dataclass

LEAST_CHANGES: Final = 4  # from which on it can be told whether a change is sent at once


@dataclass(frozen=True)
class Extremes:
    """Lowest and highest of what was seen; None before anything was."""

    low: int | float | None = None
    high: int | float | None = None

    def __add__(self, other: Extremes) -> Extremes:
        lows = [value for value in (self.low, other.low) if value is not None]
        highs = [value for value in (self.high, other.high) if value is not None]
        return Extremes(min(lows, default=None), max(highs, default=None))

    @property
    def differ(self) -> bool:
        """Whether two different values were seen."""
        return self.low is not None and self.low != self.high


@dataclass(frozen=True)
class MarkSeen:
    """One mark of the role in one capture, and how the role followed it.

    key:         tells marks apart
    state, between, from_s, to_s: as it was made
    is_answered: the role took the marked state as the mark asks
    is_partly:   some valid frame near the mark has the state
    valid, in_state: valid frames in the mark without its edges (in a short one, with what is near it), and
                 those of them in the marked state
    """

    key: str
    file: str
    state: str | int | None
    between: tuple[float, float] | None
    from_s: float
    to_s: float
    is_answered: bool
    is_partly: bool
    valid: int = 0
    in_state: int = 0

    def joined(self, other: MarkSeen) -> MarkSeen:
        """The same mark, seen on two channels of the network: seen on one is seen."""
        return replace(
            self,
            is_answered=self.is_answered or other.is_answered,
            is_partly=self.is_partly or other.is_partly,
            valid=self.valid + other.valid,
            in_state=self.in_state + other.in_state,
        )


@dataclass(frozen=True)
class Outside:
    """Valid frames in an active state outside all marks that call for one. first: seconds and capture."""

    frames: int = 0
    first: tuple[float, str] | None = None

    def __add__(self, other: Outside) -> Outside:
        return Outside(self.frames + other.frames, self.first or other.first)


Counts = tuple[tuple[int, int], ...]  # (value, how often), ascending


def added(first: Counts, second: Counts) -> Counts:
    """Two tallies as one."""
    total = dict(first)
    for value, count in second:
        total[value] = total.get(value, 0) + count
    return tuple(sorted(total.items()))


def _ranked(counts: Counts, rank: int) -> int:
    """The value of a rank, 1 for the lowest."""
    for value, count in counts:
        rank -= count
        if rank <= 0:
            return value
    raise ValueError("there are not so many")


@dataclass(frozen=True)
class CounterSeen:
    """Steps of a rolling counter from frame to frame, modulo what it counts to.

    steps: how often each step came
    runs:  how often a value came so many times in a row; runs that an awake period cuts are left out
    cut:   the longest of those
    """

    steps: Counts = ()
    runs: Counts = ()
    cut: int = 0

    def __add__(self, other: CounterSeen) -> CounterSeen:
        return CounterSeen(
            added(self.steps, other.steps), added(self.runs, other.runs), max(self.cut, other.cut)
        )

    @property
    def is_repeated(self) -> bool:
        """Whether each value comes equally often, give or take one: copies sent more often than the source.

        One in a hundred may be otherwise.
        """
        every = sum(count for _, count in self.runs)
        if every < 2:
            return False
        usual = (_ranked(self.runs, (every + 1) // 2) + _ranked(self.runs, every // 2 + 1)) / 2
        unlike = sum(count for length, count in self.runs if abs(length - usual) > 1)
        return usual >= 2 and 100 * unlike <= every and self.cut <= usual + 1

    @property
    def still(self) -> int:
        """Steps without a change, where they are no copies."""
        return 0 if self.is_repeated else dict(self.steps).get(0, 0)

    @property
    def total(self) -> int:
        """All steps; of repeated values one each."""
        every = sum(count for _, count in self.steps)
        return every - dict(self.steps).get(0, 0) if self.is_repeated else every

    @property
    def stride(self) -> int:
        """The step that a copy sent less often takes all the time, one in a hundred aside; else 1."""
        moving = [(count, step) for step, count in self.steps if step]
        if not moving:
            return 1
        count, step = max(moving)
        return step if step != 1 and 100 * (self.total - count) <= self.total else 1

    @property
    def jumps(self) -> int:
        """Steps that are neither the counter's own nor a copy's repeat."""
        return self.total - dict(self.steps).get(self.stride, 0)


@dataclass(frozen=True)
class Observation:
    """What was seen of one signal.

    frames:       frames of its message (remote and error frames are nobody's)
    too_short:    frames of its message too short to hold the signal
    carried:      frames that carry it: long enough, and its page selected
    unavailable:  of those, with a raw value that means "no value"
    out_of_range: of those, outside the DBC's limits
    valid:        the rest
    active, inactive: valid frames in, and not in, an active state
    raw, value:   extremes of the valid values, raw and physical
    stray:        extremes of the physical values outside the limits
    gaps:         between frames that carry it, while the network is awake; the edges of an awake period
                  count like frames
    between:      the same without the edges
    timed:        frames that carry it in captures with times
    change_gaps:  of the frames that brought another valid value: how long after the one before they came
    counter:      steps of the rolling counter
    marks:        per mark of the role, in the job's order
    outside:      where it was active without a mark that calls for it
    """

    frames: int = 0
    too_short: int = 0
    carried: int = 0
    unavailable: int = 0
    out_of_range: int = 0
    valid: int = 0
    active: int = 0
    inactive: int = 0
    raw: Extremes = Extremes()
    value: Extremes = Extremes()
    stray: Extremes = Extremes()
    gaps: Gaps = field(default_factory=Gaps.none)
    between: Gaps = field(default_factory=Gaps.none)
    timed: int = 0
    change_gaps: Gaps = field(default_factory=Gaps.none)
    counter: CounterSeen = CounterSeen()
    marks: tuple[MarkSeen, ...] = ()
    outside: Outside = Outside()

    def __add__(self, other: Observation) -> Observation:
        return Observation(
            frames=self.frames + other.frames,
            too_short=self.too_short + other.too_short,
            carried=self.carried + other.carried,
            unavailable=self.unavailable + other.unavailable,
            out_of_range=self.out_of_range + other.out_of_range,
            valid=self.valid + other.valid,
            active=self.active + other.active,
            inactive=self.inactive + other.inactive,
            raw=self.raw + other.raw,
            value=self.value + other.value,
            stray=self.stray + other.stray,
            gaps=self.gaps + other.gaps,
            between=self.between + other.between,
            timed=self.timed + other.timed,
            change_gaps=self.change_gaps + other.change_gaps,
            counter=self.counter + other.counter,
            marks=_joined_marks(self.marks, other.marks),
            outside=self.outside + other.outside,
        )

    def without_times(self) -> Observation:
        """Only what needs no time stamps: presence, values and counters."""
        none = Gaps.none()
        return replace(self, gaps=none, between=none, timed=0, change_gaps=none, marks=(), outside=Outside())

    def is_sent_at_changes(self, *, has_active_states: bool) -> bool:
        """Whether a change is sent at once, beside or instead of a fixed period.

        At least four changes, most of which came sooner than the next frame was due; or, of a role with
        active states, nearly every frame a change, and not evenly.
        """
        changes, median = len(self.change_gaps), self.between.percentile_ns(50)
        if median is None:
            return False
        sooner = changes - self.change_gaps.longer_than(-(-9 * median // 10) - 1)
        if changes >= LEAST_CHANGES and 10 * sooner >= 7 * changes:
            return True
        low, high = self.between.percentile_ns(10), self.between.percentile_ns(90)
        is_uneven = low is not None and high is not None and high > 2 * low
        return has_active_states and is_uneven and 10 * changes >= 9 * self.timed

    def has_moved(self, *, has_active_states: bool) -> bool:
        """Whether it took an active and an inactive state, or, without active states, two values."""
        if has_active_states:
            return self.active > 0 and self.inactive > 0
        return self.raw.differ


def _joined_marks(first: tuple[MarkSeen, ...], second: tuple[MarkSeen, ...]) -> tuple[MarkSeen, ...]:
    """Marks of both; one that both saw (two channels of one capture) with its frames added up."""
    joined = {mark.key: mark for mark in first}
    for mark in second:
        known = joined.get(mark.key)
        joined[mark.key] = mark if known is None else known.joined(mark)
    return tuple(joined.values())
