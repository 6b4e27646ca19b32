"""Bits on the wire of one channel: in all, and in the busiest stretches. See ``_wire`` for a frame's bits."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck._compile import kernels
from netcheck.capture import Capture
from netcheck.network._survey_model import Bits, Load, LoadRates
from netcheck.network._wire import capture_bits

_KERNELS: Final = kernels("netcheck.network._survey_kernels")
_WINDOWS_NS: Final = (100_000_000, 1_000_000_000)


class LoadMeter:
    """Adds up a channel's bits, chunk by chunk.

    Bits of a faster data phase count for less time. How much depends on rates that may be known only when
    the channel is identified, so each possible ratio is followed; ``1.0`` is always among them.
    A busy stretch is one that frames' time stamps fall in. Error frames count as no bits.
    """

    def __init__(self, ratios: frozenset[float]) -> None:
        """ratios: data-phase bit rate over the nominal one, for each network that the channel may be."""
        self._ratios = tuple(sorted(ratios | {1.0}))
        self._nominal = 0
        self._fast = 0
        self._peaks = np.zeros((len(self._ratios), 2))
        self._times = np.empty(0, np.int64)
        self._bits: NDArray[np.float64] = np.empty((2, 0))

    def add(self, chunk: Capture, rows: NDArray[np.int64]) -> None:
        """Take a channel's frames of a chunk."""
        if not len(rows):
            return
        nominal, fast = capture_bits(chunk, rows)
        self._nominal += int(nominal.sum(dtype=np.int64))
        self._fast += int(fast.sum(dtype=np.int64))
        times = np.concatenate((self._times, chunk.time_ns[rows]))
        bits: NDArray[np.float64] = np.concatenate((self._bits, np.stack((nominal, fast))), axis=1)
        first = 0
        for place, ratio in enumerate(self._ratios if self._fast else (1.0,)):
            amounts = bits[0] + bits[1] / ratio if self._fast else bits[0]
            alike = place if self._fast else slice(None)  # without a fast phase all ratios are alike
            for window, window_ns in enumerate(_WINDOWS_NS):
                most = np.zeros(1)
                first = _KERNELS.busiest(times, amounts, window_ns, most)
                self._peaks[alike, window] = np.maximum(self._peaks[alike, window], most[0])
        self._times, self._bits = times[first:], bits[:, first:]

    @property
    def has_fast_bits(self) -> bool:
        """Whether some frame switched to a faster data phase."""
        return self._fast > 0

    def bits(self) -> Bits:
        """Both phases counted alike."""
        peaks = self._peaks[self._ratios.index(1.0)]
        return Bits(self._nominal + self._fast, round(peaks[0]), round(peaks[1]))

    def load(self, rates: LoadRates, seconds: float, awake: float) -> Load:
        """Shares of the bit rate, over a span and a time awake in seconds."""
        is_bound = self.has_fast_bits and rates.data is None
        ratio = ratio_of(rates) if self.has_fast_bits else 1.0
        peaks = self._peaks[self._ratios.index(ratio)]
        spent = (self._nominal + self._fast / ratio) / rates.nominal
        return Load(
            mean=spent / seconds if seconds else 0.0,
            mean_awake=spent / awake if awake else 0.0,
            peak_100ms=float(peaks[0]) / rates.nominal / 0.1,
            peak_1s=float(peaks[1]) / rates.nominal,
            is_bound=is_bound,
        )


def ratio_of(rates: LoadRates) -> float:
    """Data-phase bit rate over the nominal one; 1 where it is not known."""
    return rates.data / rates.nominal if rates.data else 1.0
