"""All channels of a capture, counted in one pass, chunk by chunk."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from netcheck._compile import kernels
from netcheck.capture import Capture
from netcheck.network._traffic import Traffic, TrafficTally

_KERNELS: Final = kernels("netcheck.network._kernels")
_FIRST_SIZE: Final = 1 << 12  # rows of the table to begin with
_CHANNELS: Final = 256  # a channel is one byte

# places in the row that ``place_frames`` keeps of a channel
FRAMES: Final = 0  # of any kind
EARLIEST: Final = 1  # time stamp of any frame, ns
LATEST: Final = 2
HEARD: Final = 3  # frames that are not nobody's; the rest is of these
FIRST: Final = 4  # time of the first, ns
LAST: Final = 5  # time of the last, ns
STRETCH: Final = 6  # awake stretches that began after the first
SPAN: Final = 7

# places in a book's state
DONE: Final = 0  # frames of the chunk at hand that were placed
KNOWN: Final = 1  # entries
BROKEN: Final = 2  # breaks in the chunk at hand


class TallyTables(NamedTuple):
    """What ``place_frames`` knows of the frames before.

    table:   int64, (a power of two, 2): an open-addressed table of keys with their entries, -1 if empty
    entries: int64, (half as many, 2): the key of each entry, and how many frames it had
    spans:   int64, (256, SPAN): what is kept of each channel
    state:   int64, (3,)
    """

    table: NDArray[np.int64]
    entries: NDArray[np.int64]
    spans: NDArray[np.int64]
    state: NDArray[np.int64]


class Placed(NamedTuple):
    """Where the n frames of a chunk belong.

    entry:   int32[n], the entry with the frame's channel, id and length; -1 for a frame that is nobody's
    stretch: int32[n], the awake stretch of its channel that it lies in, the first being 0; undefined for a
             frame that is nobody's
    breaks:  int64, (m, 3): where a new stretch begins, its channel, the time of the frame before and its own
    """

    entry: NDArray[np.int32]
    stretch: NDArray[np.int32]
    breaks: NDArray[np.int64]

    @classmethod
    def empty(cls, frames: int) -> Placed:
        """Room for that many frames."""
        return cls(np.empty(frames, np.int32), np.empty(frames, np.int32), np.empty((frames, 3), np.int64))


class Entries(NamedTuple):
    """Kinds of frames by channel, id and length, in the order in which they first came."""

    channel: NDArray[np.int64]
    can_id: NDArray[np.uint32]
    is_extended: NDArray[np.bool_]
    length: NDArray[np.uint8]
    frames: NDArray[np.int64]


class FrameTally:
    """Counts the frames of all channels; ``traffic`` gives one channel's sum."""

    def __init__(self) -> None:
        table = np.full((_FIRST_SIZE, 2), -1, np.int64)
        spans = np.zeros((_CHANNELS, SPAN), np.int64)
        self._book = TallyTables(
            table, np.zeros((_FIRST_SIZE // 2, 2), np.int64), spans, np.zeros(3, np.int64)
        )
        self._placed = Placed.empty(0)

    def place(self, chunk: Capture) -> Placed:
        """Take a chunk, and tell where its frames belong; good until the next one is taken."""
        size = len(chunk)
        if len(self._placed.entry) < size:
            self._placed = Placed.empty(size)
        columns, placed = chunk.columns, self._placed
        state = self._book.state
        state[DONE] = state[BROKEN] = 0
        while True:
            _KERNELS.place_frames(columns, self._book, placed)
            if state[DONE] == size:
                return Placed(placed.entry[:size], placed.stretch[:size], placed.breaks[: state[BROKEN]])
            self._grow()

    def _grow(self) -> None:
        table, entries, spans, state = self._book
        wider = np.full((2 * len(table), 2), -1, np.int64)
        longer = np.zeros((len(table), 2), np.int64)
        longer[: len(entries)] = entries
        _KERNELS.enter(wider, entries)
        self._book = TallyTables(wider, longer, spans, state)

    def entries(self, since: int = 0) -> Entries:
        """The entries so far, from number ``since`` on."""
        key, count = self._book.entries[since : self._book.state[KNOWN]].T
        can_id = (key >> 8 & 0x1FFFFFFF).astype(np.uint32)
        return Entries(key >> 38, can_id, (key >> 37 & 1) == 1, (key & 0xFF).astype(np.uint8), count)

    def heard_ns(self) -> dict[int, tuple[int, int]]:
        """Times of the first and the last frame in file order, of channels with more than nobody's."""
        spans = self._book.spans
        heard = np.flatnonzero(spans[:, HEARD])
        return {int(row): (int(spans[row, FIRST]), int(spans[row, LAST])) for row in heard}

    def traffic(self, channel: int) -> Traffic:
        """What one channel carried."""
        span = self._book.spans[channel]
        entries = self.entries()
        own = entries.channel == channel
        tally = TrafficTally()
        if span[FRAMES]:
            tally.add_span(int(span[FRAMES]), int(span[EARLIEST]), int(span[LATEST]))
        tally.add_frames(
            entries.can_id[own], entries.is_extended[own], entries.length[own], entries.frames[own]
        )
        return tally.result()
