"""When a watched role turned: at which frames it went into its active state, and out of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from netcheck.records import dataclass
from netcheck.roles import Watch, is_any_of


@dataclass(frozen=True, eq=False)
class Turns:
    """The frames of one channel that brought another state; the first one is the first valid frame.

    times_ns: int64[n], in file order, ns of the log
    states:   bool[n], true for the active state, or above the limit
    """

    times_ns: NDArray[np.int64]
    states: NDArray[np.bool_]


@dataclass(frozen=True)
class TurnsWanted:
    """Which watches are followed: those with active states, and further roles by a limit that they pass.

    above: physical value by role
    """

    above: Mapping[str, float] = field(default_factory=dict)

    def meter(self, watch: Watch) -> TurnMeter | None:
        """What follows a watch; None where it has no states."""
        if watch.active:
            return TurnMeter(watch, None)
        return TurnMeter(watch, self.above[watch.role]) if watch.role in self.above else None


class TurnMeter:
    """One watch while the frames go by. above: the limit of a role without active states"""

    def __init__(self, watch: Watch, above: float | None) -> None:
        self._watch = watch
        self._above = above
        self._times: list[NDArray[np.int64]] = []
        self._states: list[NDArray[np.bool_]] = []

    def add(self, time_ns: NDArray[np.int64], raw: NDArray[Any], value: NDArray[np.float64]) -> None:
        """Take frames that carry the signal, in file order."""
        if self._above is None:
            active = is_any_of(raw, self._watch.active)
        else:
            with np.errstate(invalid="ignore"):  # a float signal may hold anything
                active = value > self._above
        if self._watch.not_available:
            valid = ~is_any_of(raw, self._watch.not_available)
            active, time_ns = active[valid], time_ns[valid]
        if not len(active):
            return
        turned = np.flatnonzero(active[1:] != active[:-1]) + 1
        if not self._states or self._states[-1][-1] != active[0]:
            turned = np.concatenate([[0], turned])
        if len(turned):
            self._times.append(time_ns[turned])
            self._states.append(active[turned])

    def result(self) -> Turns:
        """The turns so far."""
        return Turns(
            np.concatenate([np.empty(0, np.int64), *self._times]),
            np.concatenate([np.empty(0, np.bool_), *self._states]),
        )
