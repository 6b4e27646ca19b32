"""When a watched role turned: at which frames it went into its active state, and out of it.

Beside that, where it is wanted, how often each value of a signal with labels came.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck.evidence._stretches import Stretches
from netcheck.records import dataclass
from netcheck.roles import Watch, is_any_of

_MOST_LABELS: Final = 64  # of a signal whose values are counted
_MOST_VALUES: Final = 64  # different ones that are counted; what came later is left out


@dataclass(frozen=True, eq=False)
class Turns:
    """The frames of one channel that brought another state; the first one is the first valid frame.

    times_ns: int64[n], in file order, ns of the log
    states:   bool[n], true for the active state, or above the limit
    values:   raw values of a signal with labels, ascending, and how many frames had each; unless wanted, none
    """

    times_ns: NDArray[np.int64]
    states: NDArray[np.bool_]
    values: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True)
class TurnsWanted:
    """Which watches are followed: those with active states, and further roles by a limit that they pass.

    above:  physical value by role
    values: values of signals with labels are counted, too
    """

    above: Mapping[str, float] = field(default_factory=dict)
    values: bool = False

    def meter(self, watch: Watch) -> TurnMeter | None:
        """What follows a watch; None where it has no states and nothing to count."""
        is_counted = self.values and 0 < len(watch.signal.labels) <= _MOST_LABELS
        is_counted = is_counted and not watch.signal.is_float
        above = None if watch.active else self.above.get(watch.role)
        if not watch.active and above is None and not is_counted:
            return None
        return TurnMeter(watch, above, is_counted=is_counted)


class TurnMeter:
    """One watch while the frames go by. above: the limit of a role without active states"""

    def __init__(self, watch: Watch, above: float | None, *, is_counted: bool = False) -> None:
        self._watch = watch
        self._counts: Counter[int] | None = Counter() if is_counted else None
        self._above = above
        self._times: list[NDArray[np.int64]] = []
        self._states: list[NDArray[np.bool_]] = []

    def add(self, time_ns: NDArray[np.int64], seen: Stretches) -> None:
        """Take frames that carry the signal, in file order, and what they have."""
        if self._counts is not None:
            self._count(self._counts, seen)
        if self._above is None:
            active = is_any_of(seen.raw, self._watch.active)
        else:
            with np.errstate(invalid="ignore"):  # a float signal may hold anything
                active = seen.value > self._above
        begins = seen.begins
        if self._watch.not_available:
            valid = ~is_any_of(seen.raw, self._watch.not_available)
            active, begins = active[valid], begins[valid]
        if not len(active):
            return
        turned = np.flatnonzero(active[1:] != active[:-1]) + 1
        if not self._states or self._states[-1][-1] != active[0]:
            turned = np.concatenate([[0], turned])
        if len(turned):
            self._times.append(time_ns[begins[turned]])
            self._states.append(active[turned])

    def _count(self, total: Counter[int], seen: Stretches) -> None:
        values, place = np.unique(seen.raw, return_inverse=True)
        frames = np.bincount(place, seen.counts, len(values)).astype(np.int64)
        for value, count in zip(values.tolist(), frames.tolist(), strict=True):
            if value in total or len(total) < _MOST_VALUES:
                total[value] += count

    def result(self) -> Turns:
        """The turns so far."""
        return Turns(
            np.concatenate([np.empty(0, np.int64), *self._times]),
            np.concatenate([np.empty(0, np.bool_), *self._states]),
            tuple(sorted((self._counts or {}).items())),
        )
