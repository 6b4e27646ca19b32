"""How full a channel's wire is and how often its messages come, counted chunk by chunk in bounded memory.

Gaps between frames of an id are counted in classes a sixteenth of an octave wide, each with the sum of its
gaps, so that the median is that of the class it falls into: exact where a message keeps its period within
six per cent. The busiest second is looked for in steps of 10 ms.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from netcheck._compile import kernels
from netcheck.capture import BRS, FD, Capture
from netcheck.network._traffic import FrameId
from netcheck.network._wire import capture_bits

_KERNELS: Final = kernels("netcheck.network._load_tally_kernels")
MOST_IDS: Final = 4096  # of all channels of a capture; frames of later ones count for the load alone
LEAST_GAPS: Final = 5  # before a message can be called cyclic
CYCLIC_SHARE: Final = 0.9  # of the gaps …
_NEAR: Final = 4  # … within four classes of the median, which is about a fifth either way

_CHANNELS: Final = 256  # a channel is one byte
CLASSES_OF_OCTAVE: Final = 16
FIRST_OCTAVE: Final = 16  # 2^16 ns: no classic frame follows another of its id sooner
CLASSES: Final = CLASSES_OF_OCTAVE * 16  # up to 2^32 ns; a longer gap is in the last class
STEP_NS: Final = 10_000_000
STEPS: Final = 100  # of a second

# places in the row of a message
COUNT: Final = 0
LENGTH: Final = 1  # longest payload
FLAGS: Final = 2  # of all its frames together
BITS: Final = 3
FAST_BITS: Final = 4
LAST: Final = 5  # time of its last frame
STRETCH: Final = 6  # awake stretch of its last frame
MESSAGE: Final = 7

# places in the row of a channel
FRAMES: Final = 0
NOW: Final = 1  # time of its last frame
AWAKE: Final = 2  # number of its awake stretch
HEAD: Final = 3  # the 10 ms step at the end of its second
SUM: Final = 4  # bits in that second
FAST_SUM: Final = 5
PEAK: Final = 6  # bits in the busiest second
FAST_PEAK: Final = 7
STRANGERS: Final = 8  # data frames of ids beyond the most that are told apart
CHANNEL: Final = 9


class LoadLedger(NamedTuple):
    """What the kernel keeps.

    table:    int64, (4 · MOST_IDS, 2): an open-addressed table of keys with their message, -1 if empty
    keys:     int64, (MOST_IDS,): channel · 2^30 + width · 2^29 + id of each message
    messages: int64, (MOST_IDS, MESSAGE)
    gaps:     int32, (MOST_IDS, CLASSES): how many gaps of each class a message had
    sums:     int64, (MOST_IDS, CLASSES): and how long they were together, ns
    channels: int64, (256, CHANNEL)
    second:   int64, (256, STEPS, 2): bits of each step of a channel's second, nominal and fast
    known:    int64, (1,): number of messages
    """

    table: NDArray[np.int64]
    keys: NDArray[np.int64]
    messages: NDArray[np.int64]
    gaps: NDArray[np.int32]
    sums: NDArray[np.int64]
    channels: NDArray[np.int64]
    second: NDArray[np.int64]
    known: NDArray[np.int64]


@dataclass(frozen=True)
class MessageLoad:
    """One id on a channel.

    length:     longest payload seen, bytes
    is_fd:      some frame was CAN FD; is_fast: with a switched bit rate
    bits:       mean bits of a frame at the nominal bit rate; fast_bits: at that of the data phase
    median_ns:  median gap from frame to frame while the channel is awake; None with no gap
    mean_ns:    mean gap, likewise
    is_cyclic:  the gaps keep to the median
    """

    count: int
    length: int
    is_fd: bool
    is_fast: bool
    bits: float
    fast_bits: float
    median_ns: float | None
    mean_ns: float | None
    is_cyclic: bool


@dataclass(frozen=True)
class ChannelLoad:
    """What one channel carried.

    peak_bits, peak_fast_bits: bits on the wire in the busiest second, by phase
    strangers: data frames of ids beyond the most that are told apart
    """

    peak_bits: int
    peak_fast_bits: int
    messages: Mapping[FrameId, MessageLoad]
    strangers: int = 0

    def peak(self, bitrate: int, fd_bitrate: int | None = None) -> float:
        """Share of the wire's time that the busiest second takes."""
        return self.peak_bits / bitrate + self.peak_fast_bits / (fd_bitrate or bitrate)


class LoadTally:
    """Counts the load of all channels of a capture; ``result`` gives one channel's."""

    def __init__(self) -> None:
        self._ledger = LoadLedger(
            np.full((4 * MOST_IDS, 2), -1, np.int64),
            np.zeros(MOST_IDS, np.int64),
            np.zeros((MOST_IDS, MESSAGE), np.int64),
            np.zeros((MOST_IDS, CLASSES), np.int32),
            np.zeros((MOST_IDS, CLASSES), np.int64),
            np.zeros((_CHANNELS, CHANNEL), np.int64),
            np.zeros((_CHANNELS, STEPS, 2), np.int64),
            np.zeros(1, np.int64),
        )

    def add(self, chunk: Capture) -> None:
        """Take the next chunk of a capture."""
        nominal, fast = capture_bits(chunk)
        _KERNELS.tally_load(chunk.columns, nominal, fast, self._ledger)

    def result(self, channel: int) -> ChannelLoad:
        """What channel number ``channel`` carried so far."""
        ledger = self._ledger
        row = ledger.channels[channel]
        found = {}
        for number in range(int(ledger.known[0])):
            key = int(ledger.keys[number])
            if key >> 30 == channel:
                found[FrameId(key & 0x1FFFFFFF, bool(key >> 29 & 1))] = self._message(number)
        ordered = {frame_id: found[frame_id] for frame_id in sorted(found)}
        return ChannelLoad(int(row[PEAK]), int(row[FAST_PEAK]), ordered, int(row[STRANGERS]))

    def _message(self, number: int) -> MessageLoad:
        row, gaps = self._ledger.messages[number], self._ledger.gaps[number]
        count, flags, total = int(row[COUNT]), int(row[FLAGS]), int(gaps.sum())
        median, near = None, 0
        if total:
            middle = int(np.searchsorted(np.cumsum(gaps), (total + 1) // 2))
            median = float(self._ledger.sums[number, middle] / gaps[middle])
            near = int(gaps[max(middle - _NEAR, 0) : middle + _NEAR + 1].sum())
        return MessageLoad(
            count=count,
            length=int(row[LENGTH]),
            is_fd=bool(flags & FD),
            is_fast=bool(flags & BRS),
            bits=int(row[BITS]) / count,
            fast_bits=int(row[FAST_BITS]) / count,
            median_ns=median,
            mean_ns=float(self._ledger.sums[number].sum() / total) if total else None,
            is_cyclic=total >= LEAST_GAPS and near >= CYCLIC_SHARE * total,
        )


def merged_loads(loads: Iterable[ChannelLoad]) -> ChannelLoad:
    """Several recordings of one network as one: the busiest second of all, each id as it was seen most."""
    peak, fast, strangers = 0, 0, 0
    messages: dict[FrameId, MessageLoad] = {}
    for load in loads:
        if load.peak_bits + load.peak_fast_bits > peak + fast:
            peak, fast = load.peak_bits, load.peak_fast_bits
        strangers += load.strangers
        for frame_id, seen in load.messages.items():
            if frame_id not in messages or seen.count > messages[frame_id].count:
                messages[frame_id] = seen
    return ChannelLoad(peak, fast, {key: messages[key] for key in sorted(messages)}, strangers)
