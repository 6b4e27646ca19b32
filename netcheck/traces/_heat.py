"""The bytes of every message of a capture over time, one value a column of a picture."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import closing
from functools import partial
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck.capture import NON_DATA, Capture, open_capture
from netcheck.network import FrameId
from netcheck.records import dataclass

COLUMNS: Final = 256  # of a picture at most; at least half as many are used
MOST_MESSAGES: Final = 2_000  # ids of a capture that are drawn
_WIDTH_NS: Final = 1_000_000
_LONGEST: Final = 64  # bytes of a payload


@dataclass(frozen=True, eq=False)
class MessageHeat:
    """The bytes of a message: in each column the last frame that came in it.

    value: uint8, (bytes of its longest frame, columns); 0 where a frame was shorter
    seen:  bool, (columns): whether a frame came
    """

    channel: str
    frame_id: FrameId
    value: NDArray[np.uint8]
    seen: NDArray[np.bool_]


@dataclass(frozen=True)
class CaptureHeat:
    """All messages of a capture. column_s: seconds a column; left_out: ids beyond the most that are drawn."""

    column_s: float
    messages: tuple[MessageHeat, ...]
    left_out: int


def read_heat(
    path: Path, *, csv: str = "", progress: Callable[[str, int, int], None] | None = None
) -> CaptureHeat:
    """Go through a capture once more; arguments and errors as for ``open_capture``."""
    book = HeatBook()
    told = partial(progress, path.name) if progress else None
    with closing(open_capture(path, progress=told, csv=csv)) as stream:
        for chunk in stream.reusing_buffers():
            book.add(chunk)
        return book.result(stream.channels)


class HeatBook:
    """Messages while the chunks go by. Columns widen by doubling when the time goes beyond the last one."""

    def __init__(self) -> None:
        self._start_ns: int | None = None
        self._width = _WIDTH_NS
        self._used = 0
        self._left_out: set[int] = set()
        self._rows: dict[int, tuple[NDArray[np.uint8], NDArray[np.bool_]]] = {}
        self._longest: dict[int, int] = {}

    def add(self, chunk: Capture) -> None:
        """Take a chunk. Remote and error frames have no bytes; a frame before the first counts as with it."""
        rows = np.flatnonzero((chunk.flags & np.uint8(NON_DATA)) == 0)
        if not len(rows):
            return
        times = chunk.time_ns[rows]
        if self._start_ns is None:
            self._start_ns = int(times[0])
        since = np.maximum(times - self._start_ns, 0)
        while int(since.max()) // self._width >= COLUMNS:
            self._widen()
        column = (since // self._width).astype(np.int64)
        self._used = max(self._used, int(column.max()) + 1)
        key = chunk.channel[rows].astype(np.int64) << 30 | chunk.is_extended[rows].astype(np.int64) << 29
        key |= chunk.can_id[rows].astype(np.int64)
        order = np.lexsort((column, key))
        last = np.flatnonzero(np.append((np.diff(key[order]) != 0) | (np.diff(column[order]) != 0), True))
        for place in order[last].tolist():
            self._put(int(key[place]), int(column[place]), chunk.payload(int(rows[place])))

    def _put(self, key: int, column: int, data: bytes) -> None:
        if key not in self._rows:
            if len(self._rows) >= MOST_MESSAGES:
                self._left_out.add(key)
                return
            self._rows[key] = np.zeros((_LONGEST, COLUMNS), np.uint8), np.zeros(COLUMNS, np.bool_)
        value, seen = self._rows[key]
        value[: len(data), column] = np.frombuffer(data, np.uint8)
        value[len(data) :, column] = 0
        seen[column] = True
        self._longest[key] = max(self._longest.get(key, 0), len(data))

    def _widen(self) -> None:
        self._width *= 2
        for key, (value, seen) in self._rows.items():
            first, second = seen[::2], seen[1::2]
            half = np.zeros_like(value), np.zeros_like(seen)
            half[0][:, : COLUMNS // 2] = np.where(second, value[:, 1::2], value[:, ::2])
            half[1][: COLUMNS // 2] = first | second
            self._rows[key] = half
        self._used = -(-self._used // 2)

    def result(self, channels: tuple[str, ...]) -> CaptureHeat:
        """The messages, by channel and id."""
        found = [
            MessageHeat(
                channels[key >> 30],
                FrameId(key & 0x1FFFFFFF, bool(key >> 29 & 1)),
                value[: self._longest[key], : self._used],
                seen[: self._used],
            )
            for key, (value, seen) in sorted(self._rows.items())
        ]
        return CaptureHeat(self._width / 1e9, tuple(found), len(self._left_out))
