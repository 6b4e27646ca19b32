"""Gaps between frames, tallied exactly and in little memory."""

from __future__ import annotations

from copy import deepcopy
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck._compile import kernels

_KERNELS: Final = kernels("netcheck.evidence._kernels")
_FIRST_SIZE: Final = 1 << 8  # rows of a table of gaps to begin with
_ONCE: Final = np.empty(0, np.int64)  # each value came once


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

    def __add__(self, other: Gaps) -> Gaps:
        if not len(self.values) or not len(other.values):
            return self if len(self.values) else other
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

    def longer_than(self, gap_ns: int) -> int:
        """How many gaps are longer than that."""
        return int(self.counts[self.values > gap_ns].sum())

    @property
    def longest_ns(self) -> int | None:
        """The longest gap; None without gaps."""
        return int(self.values[-1]) if len(self.values) else None


class GapTable:
    """Gaps in ns and how often each came, while they are being added up."""

    def __init__(self) -> None:
        self._table = np.full((_FIRST_SIZE, 2), -1, np.int64)
        self._known = np.zeros(1, np.int64)

    def add(self, gaps: NDArray[np.int64]) -> None:
        """Count gaps of any order, none below 0."""
        done = 0
        while True:
            done = _KERNELS.add_gaps(gaps, _ONCE, done, self._table, self._known)
            if done == len(gaps):
                return
            self._grow()

    def _grow(self) -> None:
        filled = self._filled()
        self._table = np.full((4 * len(self._table), 2), -1, np.int64)
        self._known[0] = 0
        _KERNELS.add_gaps(filled.values, filled.counts, 0, self._table, self._known)

    def _filled(self) -> Gaps:
        values, counts = self._table[self._table[:, 0] >= 0].T
        return Gaps(np.ascontiguousarray(values), np.ascontiguousarray(counts))

    def result(self) -> Gaps:
        """The sum."""
        filled = self._filled()
        order = np.argsort(filled.values)
        return Gaps(filled.values[order], filled.counts[order])


@dataclass(frozen=True)
class Breaks:
    """The borders of awake stretches of one channel in a bundle.

    first: number of the stretch before the first border
    times: int64, (m, 2): the end of a stretch and the start of the next, ns
    """

    first: int
    times: NDArray[np.int64]


class GapMeter:
    """Gaps of one message on one channel, one bundle after another.

    The start and the end of each awake stretch count like frames, so that a message that stops, starts
    late or stays away while the network is awake shows as a gap.
    """

    def __init__(self, first_ns: int) -> None:
        self._last_ns = first_ns
        self._table = GapTable()

    def add(self, time_ns: NDArray[np.int64], stretch: NDArray[np.int32], breaks: Breaks) -> None:
        """Take the message's frames of a bundle: their times, and the stretches they are in."""
        if not len(time_ns) and not len(breaks.times):
            return
        gaps = np.empty(len(time_ns) + len(breaks.times), np.int64)
        self._last_ns = _KERNELS.walk_gaps(time_ns, stretch, breaks.times, breaks.first, self._last_ns, gaps)
        self._table.add(gaps)

    def copy(self) -> GapMeter:
        """One that goes its own way from here."""
        return deepcopy(self)

    def finish(self, last_ns: int) -> Gaps:
        """All gaps, the one to the channel's last frame included."""
        last = Gaps(np.array([max(last_ns - self._last_ns, 0)], np.int64), np.ones(1, np.int64))
        return self._table.result() + last
