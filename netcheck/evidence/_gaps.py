"""Gaps between frames, tallied exactly and in little memory."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


def _no_gaps() -> NDArray[np.int64]:
    return np.empty(0, np.int64)


@dataclass(frozen=True, eq=False)
class Gaps:
    """How often each gap came: ``values`` ascending and distinct, in ns, with their ``counts``."""

    values: NDArray[np.int64]
    counts: NDArray[np.int64]

    @staticmethod
    def none() -> Gaps:
        """No gap at all."""
        return Gaps(_no_gaps(), _no_gaps())

    @staticmethod
    def of(gaps: NDArray[np.int64]) -> Gaps:
        """Tally an array of gaps in ns, of any order."""
        values, counts = np.unique(gaps, return_counts=True)
        return Gaps(values, counts.astype(np.int64))

    def __add__(self, other: Gaps) -> Gaps:
        values, where = np.unique(np.concatenate((self.values, other.values)), return_inverse=True)
        counts = np.zeros(len(values), np.int64)
        np.add.at(counts, where, np.concatenate((self.counts, other.counts)))
        return Gaps(values, counts)

    def __len__(self) -> int:
        return int(self.counts.sum())

    def percentile_ns(self, percent: int) -> int | None:
        """The gap at a percentile by nearest rank: the ⌈percent/100·n⌉-th smallest; None without gaps."""
        total = len(self)
        if not total:
            return None
        rank = max(1, -(-percent * total // 100))
        return int(self.values[int(np.searchsorted(np.cumsum(self.counts), rank))])

    @property
    def longest_ns(self) -> int | None:
        """The longest gap; None without gaps."""
        return int(self.values[-1]) if len(self.values) else None


@dataclass(frozen=True)
class Stretches:
    """How a chunk's frames of one channel lie in awake stretches.

    number: int64[n], the stretch each frame is in, counted from the start of the capture
    breaks: positions of the frames that begin a new stretch
    ends_ns, starts_ns: per break, the time of the frame before it and its own
    """

    number: NDArray[np.int64]
    breaks: NDArray[np.int64]
    ends_ns: NDArray[np.int64]
    starts_ns: NDArray[np.int64]


class GapMeter:
    """Gaps of one message on one channel, one chunk after another.

    The start and the end of each awake stretch count like frames, so that a message that stops, starts
    late or stays away while the network is awake shows as a gap.
    """

    def __init__(self, first_ns: int) -> None:
        self._last_ns = first_ns
        self._gaps = Gaps.none()

    def add(self, positions: NDArray[np.int64], time_ns: NDArray[np.int64], stretches: Stretches) -> None:
        """Take the message's frames of a chunk: positions among the channel's frames, and their times."""
        breaks = stretches.breaks
        # Order of the points: a stretch's end, the next one's start, then the frame that begins it.
        order = np.concatenate((3 * positions + 2, 3 * breaks, 3 * breaks + 1))
        times = np.concatenate((time_ns, stretches.ends_ns, stretches.starts_ns))
        rows = np.argsort(order, kind="stable")
        order, times = order[rows], times[rows]
        steps = np.diff(times, prepend=self._last_ns)
        begins_stretch = order % 3 == 1
        self._gaps += Gaps.of(np.maximum(steps[~begins_stretch], 0))
        if len(times):
            self._last_ns = int(times[-1])

    def finish(self, last_ns: int) -> Gaps:
        """All gaps, the one to the channel's last frame included."""
        return self._gaps + Gaps.of(np.array([max(last_ns - self._last_ns, 0)], np.int64))
