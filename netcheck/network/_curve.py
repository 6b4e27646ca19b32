"""How full each channel was, second by second. A frame's bits count in the second of its time stamp."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck._compile import kernels
from netcheck.capture import Capture
from netcheck.network._survey_model import LoadRates

_KERNELS: Final = kernels("netcheck.network._curve_kernels")
SECOND_NS: Final = 1_000_000_000
MOST_SECONDS: Final = 1 << 20  # twelve days; a clock that jumps further fills no memory


class LoadCurve:
    """Bits on the wire of a capture, chunk by chunk, by channel and second.

    outside: frames earlier than the first one, or later than the most seconds: in no second
    """

    def __init__(self) -> None:
        self.outside = 0
        self._start_ns: int | None = None
        self._bits = np.zeros((1, 64, 2), np.int64)

    def add(self, chunk: Capture) -> None:
        """Take a chunk with at least one frame."""
        columns = chunk.columns
        if self._start_ns is None:
            self._start_ns = int(columns.time_ns[0])
        span = int(columns.time_ns.max() - self._start_ns) // SECOND_NS
        self._make_room(int(columns.channel.max()) + 1, min(span + 1, MOST_SECONDS))
        self.outside += int(_KERNELS.add_to_seconds(columns, self._start_ns, self._bits))

    def _make_room(self, channels: int, seconds: int) -> None:
        old = self._bits.shape
        if channels <= old[0] and seconds <= old[1]:
            return
        room = min(max(old[1], 1 << (seconds - 1).bit_length()), MOST_SECONDS)
        bits = np.zeros((max(channels, old[0]), room, 2), np.int64)
        bits[: old[0], : old[1]] = self._bits
        self._bits = bits

    def shares(self, channel: int, rates: LoadRates) -> NDArray[np.float64]:
        """Share of the bit rate in each second, up to the channel's last one with a frame."""
        if channel >= len(self._bits):
            return np.zeros(0)
        nominal, fast = self._bits[channel].T
        used = np.flatnonzero(nominal + fast)
        share = nominal / rates.nominal + fast / (rates.data or rates.nominal)
        return np.asarray(share[: used[-1] + 1 if len(used) else 0])
