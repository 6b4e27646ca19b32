"""Marks as windows of time over one watched signal."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck.files import Mark
from netcheck.records import dataclass
from netcheck.roles import Watch, is_any_of, raw_values, slack

REACTION_NS: Final = 500_000_000  # what a person's watch and a role's reaction take at either end of a mark
MOST_GAP_NS: Final = 2_000_000_000  # of the median gap that is allowed besides
LEAD_NS: Final = 200_000_000  # of a state that the guide of a recording waits for, before it is asked for


@dataclass(frozen=True)
class Window:
    """A mark as it applies to one watch; times in ns from the capture's first frame.

    state, marked_between: as the mark has them
    raw:          raw values of the marked state; for "inactive" those that it must not have; None where
                  ``between`` says it
    between:      physical limits, both inclusive, widened by the slack of the signal's step
    calls_active: the marked state is an active one
    """

    key: str
    state: str | int | None
    marked_between: tuple[float, float] | None
    from_ns: int
    to_ns: int
    raw: tuple[int, ...] | None
    between: tuple[float, float] | None
    calls_active: bool

    def covers(self, since_first_ns: NDArray[np.int64], gap_ns: int = 0) -> NDArray[np.bool_]:
        """bool[n]: times at which the marked state is no surprise, ``gap_ns`` allowed after the mark."""
        return (since_first_ns >= self.from_ns - REACTION_NS) & (
            since_first_ns <= self.to_ns + REACTION_NS + gap_ns
        )

    def in_state(self, raw: NDArray[np.generic], value: NDArray[np.float64]) -> NDArray[np.bool_]:
        """bool[n]: valid values in the marked state."""
        if self.between is not None:
            low, high = self.between
            return (value >= low) & (value <= high)
        found = is_any_of(raw, self.raw or ())
        return ~found if self.state == "inactive" else found


def window(mark: Mark, key: str, watch: Watch) -> Window | None:
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
    calls_active = raw is not None and mark.state != "inactive" and not set(raw).isdisjoint(watch.active)
    return Window(
        key=key,
        state=mark.state,
        marked_between=mark.between,
        from_ns=round(mark.from_ * 1e9),
        to_ns=round(mark.to * 1e9),
        raw=raw,
        between=between,
        calls_active=calls_active,
    )
