"""Bits on the wire of one channel: in all, and in the busiest 100 ms and second. See ``_wire`` for a frame's.

Bits of a faster data phase count for less time. How much depends on rates that may be known only when the
channel is identified, so each possible ratio is followed; 1 is always among them. A busy window is one that
frames' time stamps fall in. Error frames count as no bits.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import field
from typing import NamedTuple

from netcheck.network._survey_model import Bits, Load, LoadRates
from netcheck.network._traffic import FrameId
from netcheck.records import dataclass


class Peak(NamedTuple):
    """Bits in the busiest window, by phase."""

    nominal: int = 0
    fast: int = 0


@dataclass(frozen=True)
class MessageLoad:
    """One id on a channel.

    length:     longest payload seen, bytes
    is_fd:      some frame was CAN FD; is_fast: with a switched bit rate
    bits:       mean bits of a frame at the nominal bit rate; fast_bits: at that of the data phase
    median_ns:  median gap from frame to frame while the channel is awake; None with no gap
    mean_ns:    mean gap, likewise
    is_cyclic:  it comes by the clock, as ``Timing`` has it
    """

    count: int
    length: int
    is_fd: bool
    is_fast: bool
    bits: float
    fast_bits: float
    median_ns: int | None
    mean_ns: float | None
    is_cyclic: bool


@dataclass(frozen=True)
class ChannelLoad:
    """What one channel carried.

    nominal, fast: bits of all frames, by phase
    peaks:         per ratio of data-phase to nominal bit rate, the busiest 100 ms and the busiest second;
                   of the ratio 1 alone where no bit was of a data phase
    messages:      where they were asked for
    strangers:     data frames of ids beyond the most that are told apart
    """

    nominal: int = 0
    fast: int = 0
    peaks: Mapping[float, tuple[Peak, ...]] = field(default_factory=lambda: {1.0: (Peak(), Peak())})
    messages: Mapping[FrameId, MessageLoad] = field(default_factory=dict)
    strangers: int = 0

    def busiest(self, rates: LoadRates) -> tuple[Peak, Peak]:
        """The busiest 100 ms and the busiest second at these bit rates."""
        short, long = self.peaks[ratio_of(rates) if self.fast else 1.0]
        return short, long

    def bits(self) -> Bits:
        """Both phases counted alike."""
        short, long = self.peaks[1.0]
        return Bits(self.nominal + self.fast, sum(short), sum(long))

    def shares(self, rates: LoadRates, seconds: float, awake: float) -> Load:
        """Shares of the bit rate, over a span and a time awake in seconds."""
        short, long = self.busiest(rates)
        spent = _seconds(Peak(self.nominal, self.fast), rates)
        return Load(
            mean=spent / seconds if seconds else 0.0,
            mean_awake=spent / awake if awake else 0.0,
            peak_100ms=_seconds(short, rates) / 0.1,
            peak_1s=_seconds(long, rates),
            is_bound=self.fast > 0 and rates.data is None,
        )


def _seconds(bits: Peak, rates: LoadRates) -> float:
    return bits.nominal / rates.nominal + bits.fast / (rates.data or rates.nominal)


def ratio_of(rates: LoadRates) -> float:
    """Data-phase bit rate over the nominal one; 1 where it is not known."""
    return rates.data / rates.nominal if rates.data else 1.0


def merged_loads(loads: Iterable[ChannelLoad]) -> ChannelLoad:
    """Several recordings of one network as one: the busiest windows of all, each id as it was seen most."""
    total, strangers = Peak(), 0
    peaks: dict[float, tuple[Peak, ...]] = {}
    messages: dict[FrameId, MessageLoad] = {}
    loads = list(loads)
    for ratio in {ratio for load in loads for ratio in load.peaks}:
        each = [load.peaks.get(ratio, load.peaks[1.0]) for load in loads]
        peaks[ratio] = tuple(
            max(same, key=lambda peak: peak.nominal + peak.fast / ratio) for same in zip(*each, strict=True)
        )
    for load in loads:
        total = Peak(total.nominal + load.nominal, total.fast + load.fast)
        strangers += load.strangers
        for frame_id, seen in load.messages.items():
            if frame_id not in messages or seen.count > messages[frame_id].count:
                messages[frame_id] = seen
    return ChannelLoad(*total, peaks, {key: messages[key] for key in sorted(messages)}, strangers)
