"""Frames that carry a signal, as stretches of one raw value: what a value means is asked once for each."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck._compile import kernels
from netcheck.database import as_value
from netcheck.records import dataclass
from netcheck.roles import Watch, is_any_of, is_inside

_KERNELS: Final = kernels("netcheck.evidence._kernels")


@dataclass(frozen=True, eq=False)
class Stretches:
    """n frames as m stretches, each of frames that follow each other and have the same bits.

    begins:    int64[m], the number of each one's first frame
    gaps_ns:   int64[m], that frame's time after the frame before; -1 at the border of an awake period
    counts:    int64[m], how many frames it has
    raw, value: [m], of its frames
    is_valid:  bool[m], a value of the signal, inside its limits
    is_stray:  bool[m], a value outside the limits; others that are not valid stand for none
    is_active: bool[m], valid and one of the watch's active states
    """

    begins: NDArray[np.int64]
    gaps_ns: NDArray[np.int64]
    counts: NDArray[np.int64]
    raw: NDArray[np.generic]
    value: NDArray[np.float64]
    is_valid: NDArray[np.bool_]
    is_stray: NDArray[np.bool_]
    is_active: NDArray[np.bool_]

    @classmethod
    def of(
        cls, raw: NDArray[np.generic], time_ns: NDArray[np.int64], awake: NDArray[np.int32], watch: Watch
    ) -> Stretches:
        """The stretches of a watch's raw values, in file order. awake: the awake period of each frame"""
        room = np.empty((2, len(raw)), np.int64)
        found = _KERNELS.find_stretches(raw.view(np.uint64), time_ns, awake, *room)
        begins, gaps = room[:, :found]
        own = raw[begins]
        value = as_value(own, watch.signal)
        is_none = is_any_of(own, watch.not_available) | ~np.isfinite(value)
        inside = is_inside(watch.signal, value)
        is_valid, is_stray = ~is_none & inside, ~is_none & ~inside
        return cls(
            begins,
            gaps,
            np.diff(begins, append=len(raw)),
            own,
            value,
            is_valid,
            is_stray,
            is_valid & is_any_of(own, watch.active),
        )

    def frames(self, which: NDArray[np.bool_]) -> int:
        """How many frames some of the stretches have. which: bool[m]"""
        return int(self.counts[which].sum())

    def each(self, values: NDArray[np.generic]) -> NDArray[np.generic]:
        """[n], of each frame, from [m], of each stretch."""
        return np.repeat(values, self.counts)
