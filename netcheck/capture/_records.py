"""Frames one by one, as the readers of the formats that are not candump text find them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final, NamedTuple, Protocol

import numpy as np

from netcheck.capture._capture import ERROR, EXTENDED, FD, REMOTE, Columns
from netcheck.capture._codes import (
    BAD_CHANNEL,
    BAD_REMOTE,
    BAD_TIME,
    LONGEST_NAME,
    TOO_LONG_CLASSIC,
    TOO_LONG_FD,
    WRONG_COUNT,
    WRONG_ID,
)
from netcheck.capture._lines import Lines

MOST_NS: Final = 4_600_000_000_000_000_000  # two times of this size can be taken from each other in 64 bits


class FrameRecord(NamedTuple):
    """A frame as it was found, not checked yet.

    time_ns: None where there is no time stamp
    flags:   sum of EXTENDED, FD, REMOTE, ERROR, BRS, ESI
    length:  data bytes that it says it has; of a remote frame, those it asks for
    """

    time_ns: int | None
    can_id: int
    flags: int
    channel: str
    length: int
    payload: bytes


class RecordReader(Protocol):
    """A format, read frame by frame.

    name:  of the format
    lines: of a text format; None for a binary one

    last:  the record at hand of a binary format, as a person is shown it

    ``records`` gives a frame, or the reason (as in ``_codes``) why the line or record at hand is none. It
    raises InputError for what cannot be read.
    """

    name: str
    lines: Lines | None
    last: str

    def records(self) -> Iterator[FrameRecord | int]: ...
    def remedy(self) -> str: ...
    def remarks(self) -> list[str]: ...


def fault_of(record: FrameRecord) -> int:
    """The reason why a record is no frame that a bus can carry, or 0."""
    kind, size = record.flags, len(record.payload)
    name = record.channel
    if not name.isprintable() or not 0 < len(name.encode("utf-8", "replace")) <= LONGEST_NAME:
        return BAD_CHANNEL
    if not 0 <= record.can_id <= (0x1FFFFFFF if kind & EXTENDED or kind & ERROR else 0x7FF):
        return WRONG_ID
    if record.time_ns is not None and not -MOST_NS <= record.time_ns <= MOST_NS:
        return BAD_TIME
    if kind & REMOTE:
        return 0 if 0 <= record.length <= 8 else BAD_REMOTE
    if size > (64 if kind & FD else 8):
        return TOO_LONG_FD if kind & FD else TOO_LONG_CLASSIC
    return WRONG_COUNT if size != record.length else 0


def columns_of_records(
    records: list[FrameRecord], channels: list[int], times: list[int]
) -> tuple[Columns, int]:
    """Good records as columns, and how many payload bytes they have. Remote frames have none."""
    n = len(records)
    parts = [b"" if record.flags & REMOTE else record.payload for record in records]
    sizes = np.fromiter((len(part) for part in parts), np.int64, n)
    ends = np.cumsum(sizes)
    columns = Columns(
        time_ns=np.array(times, np.int64),
        can_id=np.fromiter((record.can_id for record in records), np.uint32, n),
        flags=np.fromiter((record.flags for record in records), np.uint8, n),
        channel=np.array(channels, np.uint8),
        length=np.fromiter((record.length for record in records), np.uint8, n),
        start=ends - sizes,
        data=np.frombuffer(b"".join(parts), np.uint8),
    )
    return columns, int(ends[-1])
