"""A capture in memory: columns, one row a frame."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from functools import cached_property
from typing import Any, Final, NamedTuple, overload

import numpy as np
from numpy.typing import NDArray

from netcheck import tables
from netcheck.errors import UsageError
from netcheck.records import dataclass
from netcheck.words import counted, listing

EXTENDED: Final = 1  # 29-bit id
FD: Final = 2  # CAN FD frame
REMOTE: Final = 4  # remote frame: a requested length, no payload
ERROR: Final = 8  # error frame: not a message of any id
BRS: Final = 16  # CAN FD: the data phase had the higher bit rate (where the log says so)
ESI: Final = 32  # CAN FD: the sender was error passive (where the log says so)
NON_DATA: Final = REMOTE | ERROR  # frames that carry no message

BoolArray = NDArray[np.bool_]
_BLOCK: Final = 1 << 14  # frames taken out of the columns at once
_MOST_CHANNELS: Final = 4  # named in one line


class Columns(NamedTuple):
    """The columns of ``Capture`` as kernels take them."""

    time_ns: NDArray[np.int64]
    can_id: NDArray[np.uint32]
    flags: NDArray[np.uint8]
    channel: NDArray[np.uint8]
    length: NDArray[np.uint8]
    start: NDArray[np.int64]
    data: NDArray[np.uint8]

    @classmethod
    def empty(cls, rows: int, payload: int) -> Columns:
        """Room for that many frames and payload bytes; memory is used only once it is written."""
        return cls(
            np.empty(rows, np.int64),
            np.empty(rows, np.uint32),
            np.empty(rows, np.uint8),
            np.empty(rows, np.uint8),
            np.empty(rows, np.uint8),
            np.empty(rows, np.int64),
            np.empty(payload, np.uint8),
        )


class CapturedFrame(NamedTuple):
    """One frame of a capture, to look at.

    length: of a remote frame what it asks for; it has no ``data``
    """

    time_ns: int
    channel: str
    can_id: int
    is_extended: bool
    is_fd: bool
    is_remote: bool
    is_error: bool
    length: int
    data: bytes


@dataclass(frozen=True, eq=False, repr=False)
class Capture(tables.Tabular):
    """Recorded frames as columns of equal length, in file order.

    ``capture[10:20]`` and ``capture[numpy array]`` are captures of these frames. ``capture[10]`` is one
    frame, and so is each that a loop gives. ``only`` chooses by id, channel and time.

    time_ns:  int64, nanoseconds since the epoch (or since the start of the recording, as the log has it)
    can_id:   uint32, without flag bits
    flags:    uint8, sum of EXTENDED, FD, REMOTE, ERROR, BRS, ESI
    channel:  uint8, index into ``channels``
    length:   uint8, payload bytes; of a remote frame the requested length
    start:    int64, where the frame's first payload byte is in ``data``
    data:     uint8, the payloads of all frames; a frame's payload is ``data[start : start + length]``
    skipped:  number of lines that were not frames (comments and blank lines are not counted)
    warnings: what a person should know, in the order it was found
    has_times: whether its frames have time stamps, all but one in a hundred at most. Without, ``time_ns`` is
              made up, 1 ms a frame: it shows what came and how it changed, but no gap, load or delay
    """

    file: str
    channels: tuple[str, ...]
    time_ns: NDArray[np.int64]
    can_id: NDArray[np.uint32]
    flags: NDArray[np.uint8]
    channel: NDArray[np.uint8]
    length: NDArray[np.uint8]
    start: NDArray[np.int64]
    data: NDArray[np.uint8]
    skipped: int = 0
    warnings: tuple[str, ...] = ()
    has_times: bool = True

    def __len__(self) -> int:
        return len(self.time_ns)

    def __repr__(self) -> str:
        where = f" on {listing(self.channels, most=_MOST_CHANNELS)}" if self.channels else ""
        long = f", {self.seconds:.1f} s" if self.has_times else ", no times"
        return f"<Capture {self.file}: {counted(len(self), 'frame')}{where}{long}>"

    @property
    def seconds(self) -> float:
        """From the earliest frame to the latest."""
        return float(self.time_ns.max() - self.time_ns.min()) / 1e9 if len(self) else 0.0

    @overload
    def __getitem__(self, chosen: int) -> CapturedFrame: ...
    @overload
    def __getitem__(self, chosen: slice | NDArray[Any]) -> Capture: ...
    def __getitem__(self, chosen: int | slice | NDArray[Any]) -> CapturedFrame | Capture:
        if isinstance(chosen, slice | np.ndarray):
            rows = {name: getattr(self, name)[chosen] for name in Columns._fields if name != "data"}
            return replace(self, **rows)
        index = range(len(self))[chosen]  # counts from the end where it is below 0
        return next(self._frames(index, index + 1))

    def __iter__(self) -> Iterator[CapturedFrame]:
        for begin in range(0, len(self), _BLOCK):
            yield from self._frames(begin, min(begin + _BLOCK, len(self)))

    def _frames(self, begin: int, end: int) -> Iterator[CapturedFrame]:
        part = slice(begin, end)
        columns = (self.time_ns, self.channel, self.can_id, self.flags, self.length)
        rows = zip(*(column[part].tolist() for column in columns), strict=True)
        for index, (time_ns, channel, can_id, flags, length) in enumerate(rows, begin):
            yield CapturedFrame(
                time_ns=time_ns,
                channel=self.channels[channel],
                can_id=can_id,
                is_extended=bool(flags & EXTENDED),
                is_fd=bool(flags & FD),
                is_remote=bool(flags & REMOTE),
                is_error=bool(flags & ERROR),
                length=length,
                data=self.payload(index),
            )

    def only(
        self,
        ids: int | Iterable[int] | None = None,
        *,
        channel: str | None = None,
        start: float | None = None,
        end: float | None = None,
        extended: bool | None = None,
    ) -> Capture:
        """The frames that fit all that is given, as a capture.

        ids:        messages of these ids; error frames are none. Above 0x7FF they have 29 bits
        extended:   whether the ids have 29 bits, where their size does not say it
        channel:    of this channel
        start, end: seconds from this capture's first frame; a frame at ``start`` is in, one at ``end`` is not

        Raises UsageError for a channel that is not there and for an empty stretch of time.
        """
        chosen = np.ones(len(self), np.bool_)
        if ids is not None:
            wanted = np.unique(np.array([ids] if isinstance(ids, int | np.integer) else list(ids), np.int64))
            is_wide = wanted > 0x7FF if extended is None else np.full(len(wanted), extended)
            keys = self.can_id.astype(np.int64) << 1 | self.is_extended
            chosen &= np.isin(keys, wanted << 1 | is_wide) & ~self.is_error
        if channel is not None:
            if channel not in self.channels:
                there = ", ".join(self.channels)
                raise UsageError(f"{self.file} has no channel {channel}", remedy=f"it has {there}")
            chosen &= self.channel == self.channels.index(channel)
        if start is not None and end is not None and not start < end:
            raise UsageError(f"from {start:g} to {end:g} s is no time", remedy="the earlier one first")
        first = int(self.time_ns[0]) if len(self) else 0
        if start is not None:
            chosen &= self.time_ns >= first + round(start * 1e9)
        if end is not None:
            chosen &= self.time_ns < first + round(end * 1e9)
        return self[chosen]

    def _table(self) -> dict[str, tables.Column]:
        return {
            "time": tables.TimeColumn(self.time_ns),
            "channel": tables.NameColumn(self.channel.astype(np.int32), self.channels),
            "id": self.can_id,
            "extended": self.is_extended,
            "fd": self.is_fd,
            "remote": self.is_remote,
            "error": self.is_error,
            "length": self.length,
            "data": tables.BytesColumn(
                self.data, self.start, np.where(self.is_remote, 0, self.length).astype(np.int64)
            ),
        }

    @property
    def columns(self) -> Columns:
        """All columns, each in one piece of memory; copied only where it is not."""
        return Columns(*(np.ascontiguousarray(getattr(self, name)) for name in Columns._fields))

    @cached_property
    def is_extended(self) -> BoolArray:
        """bool: the id has 29 bits."""
        found: BoolArray = (self.flags & EXTENDED) != 0
        return found

    @cached_property
    def is_fd(self) -> BoolArray:
        """bool: a CAN FD frame."""
        found: BoolArray = (self.flags & FD) != 0
        return found

    @cached_property
    def is_remote(self) -> BoolArray:
        """bool: a remote frame."""
        found: BoolArray = (self.flags & REMOTE) != 0
        return found

    @cached_property
    def is_error(self) -> BoolArray:
        """bool: an error frame."""
        found: BoolArray = (self.flags & ERROR) != 0
        return found

    def payload(self, index: int) -> bytes:
        """Payload bytes of frame ``index``; empty for a remote frame."""
        if self.flags[index] & REMOTE:
            return b""
        begin = int(self.start[index])
        return self.data[begin : begin + int(self.length[index])].tobytes()
