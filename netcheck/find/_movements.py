"""What every bit of a capture did: one pass over the frames, in memory that does not grow with them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck._compile import kernels
from netcheck.capture import Capture, CaptureStream
from netcheck.find import _book as book_of
from netcheck.find._book import MovementBook
from netcheck.network import FrameId
from netcheck.records import dataclass

_KERNELS: Final = kernels("netcheck.find._kernels")
_ROOM: Final = (64, 128, 1 << 14, 256)  # messages, lanes, rows of the log, silences: to begin with


@dataclass(frozen=True, eq=False)
class MessageMovements:
    """One id on one channel. Times in seconds from the capture's first frame.

    length:   bytes of its longest payload
    count:    its frames
    period:   median of its gaps; 0 for a single frame
    silences: float64, (n, 2): pauses well beyond its usual gaps, from the frame before to that after
    sampled:  float64[n], times of samples taken evenly over the capture
    lanes:    eight payload bytes each
    """

    channel: str
    frame_id: FrameId
    length: int
    count: int
    first: float
    last: float
    period: float
    silences: NDArray[np.float64]
    sampled: NDArray[np.float64]
    lanes: tuple[Lane, ...]

    @property
    def key(self) -> tuple[str, FrameId]:
        """What tells it from others."""
        return self.channel, self.frame_id

    def flips(self) -> NDArray[np.int64]:
        """int64[8 * length]: how often each bit changed; bit 8 · byte + n, n from the least significant."""
        counts = np.concatenate([lane.flips for lane in self.lanes])
        return counts[: 8 * self.length]


@dataclass(frozen=True, eq=False)
class Lane:
    """Eight bytes of a message as a little-endian word, at each change of a bit that is still followed.

    number: 0 for the first eight bytes of the payload
    times:  float64[n], of the frame that brought the change
    gaps:   float64[n], seconds since the frame before: the change happened within them
    words:  uint64[n], the bytes from there on; only bits of ``live`` are exact
    first:  the bytes of the first frame
    live:   a mask: the bits that did not change too often to be followed
    flips:  int64[64]: how often each bit changed
    """

    number: int
    times: NDArray[np.float64]
    gaps: NDArray[np.float64]
    words: NDArray[np.uint64]
    first: int
    live: int
    flips: NDArray[np.int64]
    samples: NDArray[np.uint64]

    def changes(self, byte: int, bit: int, width: int) -> FieldChanges:
        """A field inside one byte; its values from the first frame on."""
        shift = np.uint64(8 * (byte % 8) + bit)
        mask = np.uint64((1 << width) - 1)
        values = np.empty(len(self.words) + 1, np.int64)
        values[0] = (self.first >> int(shift)) & int(mask)
        values[1:] = (self.words >> shift) & mask
        places = np.flatnonzero(np.diff(values))
        return FieldChanges(self.times[places], self.gaps[places], values[np.append(0, places + 1)])


@dataclass(frozen=True, eq=False)
class FieldChanges:
    """A field's values: values[0] from the message's first frame on, values[k + 1] from times[k] on.

    times, gaps: float64[n], in seconds; the change happened within the gap before its time
    values:      int64[n + 1]
    """

    times: NDArray[np.float64]
    gaps: NDArray[np.float64]
    values: NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Movements:
    """A whole capture. seconds: from its first frame to its last."""

    file: str
    frames: int
    seconds: float
    has_times: bool
    messages: tuple[MessageMovements, ...]

    @cached_property
    def by_key(self) -> dict[tuple[str, FrameId], tuple[MessageMovements, ...]]:
        """Messages of an id; two where it came with up to eight bytes and with more."""
        found: dict[tuple[str, FrameId], tuple[MessageMovements, ...]] = {}
        for message in self.messages:
            found[message.key] = (*found.get(message.key, ()), message)
        return found


class MovementTally:
    """Takes chunks of frames; ``result`` can be asked for at any time."""

    def __init__(self) -> None:
        self._book = MovementBook.empty(*_ROOM)

    def add(self, chunk: Capture) -> None:
        """The frames of a chunk."""
        columns = chunk.columns
        self._book.state[book_of.DONE] = 0
        _KERNELS.note_movements(columns, self._book)
        while self._book.state[book_of.DONE] < len(chunk):
            self._book = self._book.grown()
            _KERNELS.note_movements(columns, self._book)

    def result(self, file: str, channels: tuple[str, ...], *, has_times: bool = True) -> Movements:
        """What was seen so far; messages in order of channel and id."""
        state = self._book.state
        order = np.argsort(self._book.messages[: state[book_of.MESSAGES], book_of.M_KEY], kind="stable")
        lanes = _Lanes(self._book)
        seen = tuple(lanes.message(number, channels) for number in order.tolist())
        seconds = (state[book_of.LAST] - state[book_of.ORIGIN]) / 1e9
        return Movements(file, int(state[book_of.FRAMES]), float(seconds), has_times, seen)


class _Lanes:
    """Reads a book."""

    def __init__(self, book: MovementBook) -> None:
        self._book = book
        log = book.log[: book.state[book_of.LOGGED]]
        order = np.argsort(log[:, 0], kind="stable")
        self._log = log[order]
        self._borders = np.searchsorted(self._log[:, 0], np.arange(book.state[book_of.LANES] + 1))
        self._origin = int(book.state[book_of.ORIGIN])

    def message(self, number: int, channels: tuple[str, ...]) -> MessageMovements:
        book = self._book
        row = book.messages[number].tolist()
        key = row[book_of.M_KEY]
        silences = book.silences[: book.state[book_of.SILENT]]
        length = row[book_of.M_LENGTH]
        first = row[book_of.M_LANE]
        samples = row[book_of.M_SAMPLES]
        return MessageMovements(
            channel=channels[key >> 31],
            frame_id=FrameId(key & 0x1FFFFFFF, bool(key >> 29 & 1)),
            length=length,
            count=row[book_of.M_COUNT],
            first=(row[book_of.M_FIRST] - self._origin) / 1e9,
            last=(row[book_of.M_LAST] - self._origin) / 1e9,
            period=_median_gap(book.gaps[number]),
            silences=self._seconds(silences[silences[:, 0] == number, 1:]),
            sampled=self._seconds(book.sampled[number, :samples]),
            lanes=tuple(
                self._lane(first + place, place, samples) for place in range(max((length + 7) // 8, 1))
            ),
        )

    def _lane(self, lane: int, number: int, samples: int) -> Lane:
        book = self._book
        rows = self._log[self._borders[lane] : self._borders[lane + 1]]
        return Lane(
            number=number,
            times=self._seconds(rows[:, 1]),
            gaps=rows[:, 2] / 1e9,
            words=rows[:, 3].copy().view(np.uint64),
            first=int(book.first[lane]),
            live=int(book.live[lane]),
            flips=_counts(book.planes[lane]),
            samples=book.samples[lane, :samples].copy(),
        )

    def _seconds(self, time_ns: NDArray[np.int64]) -> NDArray[np.float64]:
        found: NDArray[np.float64] = (time_ns - self._origin) / 1e9
        return found


def _counts(planes: NDArray[np.uint64]) -> NDArray[np.int64]:
    bits = (planes[:, None] >> np.arange(64, dtype=np.uint64)) & np.uint64(1)
    found: NDArray[np.int64] = (bits.astype(np.int64) << np.arange(len(planes))[:, None]).sum(axis=0)
    return found


def _median_gap(counts: NDArray[np.int32]) -> float:
    """The middle of the bin with the median, s."""
    total = int(counts.sum())
    if not total:
        return 0.0
    place = int(np.searchsorted(np.cumsum(counts), (total + 1) // 2))
    octave, rest = (0, place) if place < 8 else ((place - 4) // 4, 4 + place % 4)
    return float((rest + 0.5) * 2.0**octave / 1e6)


def movements_of(file: str, channels: tuple[str, ...], chunks: Iterable[Capture]) -> Movements:
    """Of chunks that are at hand."""
    tally = MovementTally()
    has_times = True
    for chunk in chunks:
        tally.add(chunk)
        has_times &= chunk.has_times
    return tally.result(file, channels, has_times=has_times)


def read_movements(stream: CaptureStream) -> Movements:
    """Of a capture file. Raises InputError as the stream does."""
    tally = MovementTally()
    for chunk in _buffers(stream):
        tally.add(chunk)
    return tally.result(stream.file, stream.channels, has_times=stream.has_times)


def _buffers(stream: CaptureStream) -> Iterator[Capture]:
    return iter(stream.reusing_buffers())
