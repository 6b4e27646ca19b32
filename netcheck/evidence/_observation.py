"""What was seen of one signal: counts that add up over chunks, channels and captures."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from netcheck.network import Gaps


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
class Counted:
    """Frames with a valid value in a stretch of time, and those of them in the marked state."""

    valid: int = 0
    in_state: int = 0

    def __add__(self, other: Counted) -> Counted:
        return Counted(self.valid + other.valid, self.in_state + other.in_state)


@dataclass(frozen=True)
class MarkSeen:
    """One mark of the role: how its valid frames stood.

    key:     tells marks apart
    label:   what the mark says, for messages: ``active 12–15 s in x.log``
    within:  from half a second after its start to its end
    around:  from 0.2 s before its start to half a second after its end
    is_long: half a second or more of it lies before the capture's end: every frame ``within`` counts; of
             a shorter one a single frame ``around`` does
    """

    key: str
    label: str
    within: Counted = Counted()
    around: Counted = Counted()
    is_long: bool = True

    @property
    def judged(self) -> Counted:
        """The frames that the mark is judged by."""
        return self.within if self.is_long else self.around

    @property
    def is_answered(self) -> bool:
        """Whether the role took the marked state as the mark asks."""
        if self.is_long:
            return 0 < self.within.valid == self.within.in_state
        return self.around.in_state > 0

    def joined(self, other: MarkSeen) -> MarkSeen:
        """The same mark, seen on two channels or in two chunks."""
        return replace(self, within=self.within + other.within, around=self.around + other.around)


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
    gaps:         between frames that carry it, while the network is awake
    steps, still, jumps: steps of the rolling counter, those without change, those that are not +1
    marks:        per mark of the role, in the job's order
    outside:      valid frames in an active state outside all marks that call for one
    first_outside: where that was first: ``3.2 s in x.log``
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
    steps: int = 0
    still: int = 0
    jumps: int = 0
    marks: tuple[MarkSeen, ...] = ()
    outside: int = 0
    first_outside: str = ""

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
            steps=self.steps + other.steps,
            still=self.still + other.still,
            jumps=self.jumps + other.jumps,
            marks=_joined_marks(self.marks, other.marks),
            outside=self.outside + other.outside,
            first_outside=self.first_outside or other.first_outside,
        )

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
