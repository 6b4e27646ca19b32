"""Gaps of a message while its channel is awake, one bundle after another."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck._compile import kernels
from netcheck.network import Gaps, GapTally
from netcheck.records import dataclass

_KERNELS: Final = kernels("netcheck.evidence._kernels")


@dataclass(frozen=True)
class Breaks:
    """The borders of awake periods of one channel in a bundle.

    first: number of the period before the first border
    times: int64, (m, 2): the end of a period and the start of the next, ns
    """

    first: int
    times: NDArray[np.int64]


class GapMeter:
    """Gaps of one message on one channel, one bundle after another.

    The start and the end of each awake period count like frames, so that a message that stops, starts
    late or stays away while the network is awake shows as a gap.
    """

    def __init__(self, first_ns: int) -> None:
        self._last_ns = first_ns  # of the last frame, or the start of an awake period if that came later
        self._is_frame = 0
        self._between = GapTally()
        self._edges = GapTally()

    def add(self, time_ns: NDArray[np.int64], awake: NDArray[np.int32], breaks: Breaks) -> None:
        """Take the message's frames of a bundle: their times, and the awake periods they are in."""
        if not len(time_ns) and not len(breaks.times):
            return
        gaps = np.empty(len(time_ns) + len(breaks.times), np.int64)
        self._last_ns, self._is_frame, between = _KERNELS.walk_gaps(
            time_ns, awake, breaks.times, breaks.first, self._last_ns, self._is_frame, gaps
        )
        self._between.add(gaps[:between])
        self._edges.add(gaps[between:])

    def copy(self) -> GapMeter:
        """One that goes its own way from here."""
        other = GapMeter(self._last_ns)
        other._is_frame = self._is_frame
        other._between, other._edges = self._between.copy(), self._edges.copy()
        return other

    def between(self) -> Gaps:
        """Gaps from frame to frame, without the edges of awake periods."""
        return self._between.result()

    def finish(self, last_ns: int) -> Gaps:
        """All gaps, the one to the channel's last frame included."""
        last = Gaps(np.array([max(last_ns - self._last_ns, 0)], np.int64), np.ones(1, np.int64))
        return self.between() + self._edges.result() + last
