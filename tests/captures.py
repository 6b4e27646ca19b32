"""Small captures made by hand, without a log."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

import numpy as np

from netcheck.capture import EXTENDED, REMOTE, Capture


class Frame(NamedTuple):
    can_id: int
    data: bytes
    flags: int = 0  # sum of EXTENDED, FD, REMOTE, ERROR
    time_ns: int | None = None  # by default 10 ms after the frame before it
    channel: str = "can0"
    length: int | None = None  # by default that of the data


def hand_made(frames: Iterable[Frame], file: str = "hand.log") -> Capture:
    """The frames as a capture; remote frames take no room in ``data``, as with a reader."""
    rows = list(frames)
    channels = tuple(dict.fromkeys(row.channel for row in rows))
    times = []
    for row in rows:
        times.append(row.time_ns if row.time_ns is not None else times[-1] + 10_000_000 if times else 0)
    stored = [b"" if row.flags & REMOTE else row.data for row in rows]
    ends = np.cumsum([len(data) for data in stored], dtype=np.int64)
    return Capture(
        file=file,
        channels=channels,
        time_ns=np.array(times, np.int64),
        can_id=np.array([row.can_id for row in rows], np.uint32),
        flags=np.array([row.flags for row in rows], np.uint8),
        channel=np.array([channels.index(row.channel) for row in rows], np.uint8),
        length=np.array([len(row.data) if row.length is None else row.length for row in rows], np.uint8),
        start=np.array([end - len(data) for end, data in zip(ends, stored, strict=True)], np.int64),
        data=np.frombuffer(b"".join(stored), np.uint8),
    )


def frames_of(can_id: int, payloads: Iterable[bytes], *, extended: bool = False) -> Capture:
    """A capture of one id with these payloads."""
    return hand_made(Frame(can_id, data, EXTENDED if extended else 0) for data in payloads)
