"""Marks as windows of time over one watched signal."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck.files import Mark
from netcheck.roles import Watch, is_any_of, raw_values, slack

REACTION_NS: Final = 500_000_000  # a role may answer a mark this much late
LEAD_NS: Final = 200_000_000  # and this much early, where a mark was set by hand


@dataclass(frozen=True)
class Window:
    """A mark as it applies to one watch; times in ns from the capture's first frame.

    raw:          raw values of the marked state, or None where ``between`` says it
    is_other:     the marked state is any value but those of ``raw``
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
    is_other: bool = False

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
        found = is_any_of(raw, self.raw or ())
        return ~found if self.is_other else found


def window(mark: Mark, key: str, label: str, watch: Watch) -> Window | None:
    """The mark as a window for one watch, or None where the watched signal has no such state."""
    raw: tuple[int, ...] | None
    between = None
    if mark.between is not None:
        raw, allowed = None, slack(watch.signal)
        between = (mark.between[0] - allowed, mark.between[1] + allowed)
    elif mark.state in {"active", "inactive"}:
        raw = watch.active
    else:
        raw = raw_values(watch.signal, mark.state) if mark.state is not None else ()
    if raw is not None and not raw:
        return None
    is_other = mark.state == "inactive"
    return Window(
        key=key,
        label=label,
        from_ns=round(mark.from_ * 1e9),
        to_ns=round(mark.to * 1e9),
        raw=raw,
        between=between,
        calls_active=not is_other and raw is not None and not set(raw).isdisjoint(watch.active),
        is_other=is_other,
    )
