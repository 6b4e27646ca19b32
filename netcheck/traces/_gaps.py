"""Where no frame came for a while."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck.network import SILENCE_NS, SILENCE_SHARE
from netcheck.traces._model import TraceGap

_MEDIAN_OF: Final = 4096  # gaps that the usual one is taken from


class GapFinder:
    """Pauses between frames that are long for them: over a second, and 2.5 times their usual gap.

    The usual gap is the median of the first 4,096. The longest pauses are kept, up to ``most``.
    """

    def __init__(self, most: int = 200) -> None:
        self._most = most
        self._last: int | None = None
        self._first = np.empty(0, np.int64)
        self._long = np.empty((0, 2), np.int64)
        self._dropped = 0

    def add(self, time_ns: NDArray[np.int64]) -> None:
        """The times of the next frames, in file order; a step back is no pause."""
        if not len(time_ns):
            return
        times = time_ns if self._last is None else np.concatenate(([self._last], time_ns))
        self._last = int(time_ns[-1])
        gaps = np.diff(times)
        if len(self._first) < _MEDIAN_OF:
            self._first = np.concatenate((self._first, gaps[: _MEDIAN_OF - len(self._first)]))
        long = np.flatnonzero(gaps > SILENCE_NS)
        if not len(long):
            return
        self._long = np.concatenate((self._long, np.stack((times[long], times[long + 1]), axis=1)))
        if len(self._long) > 4 * self._most:
            self._cut()

    def _cut(self) -> None:
        spans = self._long[self._long[:, 1] - self._long[:, 0] > self._limit]
        order = np.argsort(spans[:, 0] - spans[:, 1], kind="stable")
        self._dropped += max(len(spans) - self._most, 0)
        kept = spans[order[: self._most]]
        self._long = kept[np.argsort(kept[:, 0], kind="stable")]

    @property
    def _limit(self) -> int:
        usual = int(np.median(self._first)) if len(self._first) else 0
        return max(SILENCE_NS, int(SILENCE_SHARE * usual))

    def result(self) -> tuple[NDArray[np.int64], int]:
        """int64, (n, 2): begin and end of each pause in ns; and how many shorter ones were left out."""
        self._cut()
        return self._long, self._dropped


def trace_gaps(spans: NDArray[np.int64], silences: NDArray[np.int64], start_ns: int) -> tuple[TraceGap, ...]:
    """The pauses of a signal, each with whether the channel was silent for most of it."""
    return tuple(
        TraceGap(
            (begin - start_ns) / 1e9,
            (end - start_ns) / 1e9,
            2 * _covered(begin, end, silences.tolist()) >= end - begin,
        )
        for begin, end in spans.tolist()
    )


def _covered(begin: int, end: int, silences: Sequence[Sequence[int]]) -> int:
    return sum(max(min(end, last) - max(begin, first), 0) for first, last in silences)
