"""What to look for in a capture: signals with their states, and marks as windows of time."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck.database import Message, Signal
from netcheck.files import Mark

REACTION_NS: Final = 500_000_000  # a role may answer a mark this much late
LEAD_NS: Final = 200_000_000  # and this much early, where a mark was set by hand
LIMIT_SLACK: Final = 1e-6  # of one step: decimal limits are not exact in binary


@dataclass(frozen=True)
class Watch:
    """One signal to observe on every channel.

    active:        raw values that mean the active state; () for a role without one
    not_available: raw values that mean "no value"
    counter:       the message's rolling counter, if the role names one
    """

    role: str
    network: str
    message: Message
    signal: Signal
    active: tuple[int, ...] = ()
    not_available: tuple[int, ...] = ()
    counter: Signal | None = None


@dataclass(frozen=True)
class Window:
    """A mark as it applies to one watch; times in ns from the capture's first frame.

    raw:          raw values of the marked state, or None where ``between`` says it
    between:      physical limits, both inclusive, widened by the slack of the signal's step
    calls_active: the marked state is an active one
    """

    key: str
    label: str
    from_ns: int
    to_ns: int
    raw: tuple[int, ...] | None
    between: tuple[float, float] | None
    calls_active: bool

    def is_long(self, end_ns: int) -> bool:
        """Half a second or more of it lies before the capture's end at ``end_ns``."""
        return min(self.to_ns, end_ns) - self.from_ns >= REACTION_NS

    def within(self, since_first_ns: NDArray[np.int64]) -> NDArray[np.bool_]:
        """bool[n]: frames where the marked state must be there: the reaction time is over."""
        return (since_first_ns >= self.from_ns + REACTION_NS) & (since_first_ns <= self.to_ns)

    def covers(self, since_first_ns: NDArray[np.int64]) -> NDArray[np.bool_]:
        """bool[n]: frames where the marked state is no surprise."""
        return (since_first_ns >= self.from_ns - LEAD_NS) & (since_first_ns <= self.to_ns + REACTION_NS)

    def in_state(self, raw: NDArray[np.generic], value: NDArray[np.float64]) -> NDArray[np.bool_]:
        """bool[n]: values in the marked state."""
        if self.between is not None:
            low, high = self.between
            return (value >= low) & (value <= high)
        return is_any_of(raw, self.raw or ())


def slack(signal: Signal) -> float:
    """How far a physical value may lie beyond a decimal limit and still be at it."""
    return LIMIT_SLACK * abs(signal.scale)


def is_any_of(raw: NDArray[np.generic], wanted: Iterable[int]) -> NDArray[np.bool_]:
    """bool[n]: raw values that are one of ``wanted``; exact for 64-bit values."""
    found = np.zeros(len(raw), np.bool_)
    for number in wanted:
        found |= raw == number
    return found


def raw_values(signal: Signal, state: str | int) -> tuple[int, ...]:
    """Raw values of a state: a value-table label, or a raw number; () for a label the signal lacks."""
    if isinstance(state, int):
        return (state,)
    return tuple(raw for raw, label in signal.labels.items() if label == state)


def window(mark: Mark, key: str, label: str, watch: Watch) -> Window | None:
    """The mark as a window for one watch, or None where the watched signal has no such state."""
    raw: tuple[int, ...] | None
    between = None
    if mark.between is not None:
        raw, allowed = None, slack(watch.signal)
        between = (mark.between[0] - allowed, mark.between[1] + allowed)
    elif mark.state == "active":
        raw = watch.active
    else:
        raw = raw_values(watch.signal, mark.state) if mark.state is not None else ()
    if raw is not None and not raw:
        return None
    return Window(
        key=key,
        label=label,
        from_ns=round(mark.from_ * 1e9),
        to_ns=round(mark.to * 1e9),
        raw=raw,
        between=between,
        calls_active=raw is not None and not set(raw).isdisjoint(watch.active),
    )
