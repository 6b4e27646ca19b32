"""Steps of a rolling counter, and how often it repeats a value: arrays that a kernel writes."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from netcheck._compile import kernels

_KERNELS: Final = kernels("netcheck.evidence._kernels")
_ROWS: Final = 1 << 2  # to begin with: most counters step by 1 and stand for one frame

# places in the state
C_VALUE: Final = 0  # of the last frame
C_AWAKE: Final = 1  # its awake period, -1 before the first frame
C_RUN: Final = 2  # frames with that value, in a row
C_IS_WHOLE: Final = 3  # 1: this row began with a step of the counter, not with an awake period
C_CUT: Final = 4  # the longest row that an awake period cuts
C_STEPS: Final = 5  # rows of ``steps`` in use
C_RUNS: Final = 6  # rows of ``runs`` in use


class CounterBook(NamedTuple):
    """What is counted of one counter.

    steps: int64, (a power of two, 2): an open-addressed table of steps and how often each came, -1 in a
           free row
    runs:  int64, likewise: of how many frames in a row had one value
    state: int64[7]
    """

    steps: NDArray[np.int64]
    runs: NDArray[np.int64]
    state: NDArray[np.int64]

    @classmethod
    def empty(cls) -> CounterBook:
        """Nothing counted yet."""
        state = np.zeros(7, np.int64)
        state[C_AWAKE] = -1
        return cls(_free(_ROWS), _free(_ROWS), state)

    def grown(self) -> CounterBook:
        """The same with tables of twice the size."""
        return self._replace(steps=_doubled(self.steps), runs=_doubled(self.runs))


def _free(rows: int) -> NDArray[np.int64]:
    return np.full((rows, 2), -1, np.int64)


def _doubled(table: NDArray[np.int64]) -> NDArray[np.int64]:
    larger = _free(2 * len(table))
    _KERNELS.enter_counts(table, larger)
    return larger


def counts_in(table: NDArray[np.int64]) -> tuple[tuple[int, int], ...]:
    """The numbers of a table and how often each came, ascending."""
    return tuple(sorted(map(tuple, table[table[:, 0] >= 0].tolist())))
