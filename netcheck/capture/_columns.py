"""The columns of frames while they are being written."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from netcheck.capture import _tally as tallied
from netcheck.capture._capture import Columns
from netcheck.capture._codes import MOST_CHANNELS, NAMED, RUN_CHANNELS


class Workspace(NamedTuple):
    """What ``parse`` writes besides the columns, and works in.

    tally:  int64, one place for each name in ``_tally``
    notes:  int64, (MOST_CHANNELS + NAMED, 3): first the channel names (place, length), then the first lines
            that are no frames (line, reason, place); all of this stretch, lines counted from 1
    rows:   uint64, (RUN_CHANNELS, 4): channel names as words, for the short way
    record: int64, (8,): the line at hand
    """

    tally: NDArray[np.int64]
    notes: NDArray[np.int64]
    rows: NDArray[np.uint64]
    record: NDArray[np.int64]

    @classmethod
    def empty(cls) -> Workspace:
        """A cleared workspace."""
        space = cls(
            np.empty(tallied.SIZE, np.int64),
            np.empty((MOST_CHANNELS + NAMED, 3), np.int64),
            np.empty((RUN_CHANNELS, 4), np.uint64),
            np.empty(8, np.int64),
        )
        space.clear()
        return space

    def clear(self) -> None:
        """Ready for the next stretch."""
        for array in self:
            array.fill(0)
        self.rows[:, 0] = 1  # matches nothing, as its mask is 0


class Batch(NamedTuple):
    """The first ``frames`` rows and ``payload`` bytes of columns that will be written over.

    skipped: lines among them that are no frames; done: bytes on disk used so far
    untimed: frames among them without a time stamp
    """

    columns: Columns
    frames: int
    payload: int
    skipped: int
    done: int
    untimed: int

    def buffers(self) -> Columns:
        """The rows in use, good until they are written over."""
        return Columns(
            **{
                name: column[: self.payload if name == "data" else self.frames]
                for name, column in self.columns._asdict().items()
            }
        )

    def copied(self) -> Columns:
        """The rows in use, in memory of their own."""
        return Columns(**{name: column.copy() for name, column in self.buffers()._asdict().items()})


class Gathered:
    """Batches joined in one set of columns that grows as needed."""

    def __init__(self, total: int) -> None:
        self._total = total
        self._columns = Columns.empty(0, 0)
        self._frames = 0
        self._payload = 0

    def add(self, batch: Batch) -> None:
        """Appends a batch."""
        rows, payload = self._frames + batch.frames, self._payload + batch.payload
        columns = self._columns
        if rows > len(columns.time_ns) or payload > len(columns.data):
            columns = self._grow(rows, payload, batch.done)
        for name, column in batch.columns._asdict().items():
            if name == "data":
                columns.data[self._payload : payload] = column[: batch.payload]
            elif name == "start":
                np.add(column[: batch.frames], self._payload, out=columns.start[self._frames : rows])
            else:
                getattr(columns, name)[self._frames : rows] = column[: batch.frames]
        self._frames, self._payload = rows, payload

    def _grow(self, rows: int, payload: int, done: int) -> Columns:
        """Room for the whole file as far as its beginning tells, at least half as much again."""
        scale = max(1.5 if self._frames else 1.0, 1.05 * self._total / done if done and self._total else 2.0)
        old = self._columns
        self._columns = Columns.empty(int(rows * scale) + 16, int(payload * scale) + 64)
        for name, column in self._columns._asdict().items():
            filled = self._payload if name == "data" else self._frames
            column[:filled] = getattr(old, name)[:filled]
        return self._columns

    def finish(self) -> Columns:
        """The columns, cut to what they hold."""
        for name, column in self._columns._asdict().items():
            column.resize(self._payload if name == "data" else self._frames, refcheck=False)
        return self._columns
