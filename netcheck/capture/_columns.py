"""The columns of frames while they are being written."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray


class Columns(NamedTuple):
    """The columns of ``Capture``, with room for more rows than are filled."""

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


class Batch(NamedTuple):
    """The first ``frames`` rows and ``payload`` bytes of columns that will be written over."""

    columns: Columns
    frames: int
    payload: int
    skipped: int
    done: int


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
        for name, column in zip(Columns._fields[:-2], columns[:-2], strict=True):
            column[self._frames : rows] = getattr(batch.columns, name)[: batch.frames]
        np.add(batch.columns.start[: batch.frames], self._payload, out=columns.start[self._frames : rows])
        columns.data[self._payload : payload] = batch.columns.data[: batch.payload]
        self._frames, self._payload = rows, payload

    def _grow(self, rows: int, payload: int, done: int) -> Columns:
        """Room for the whole file as far as its beginning tells, at least half as much again."""
        scale = max(1.5 if self._frames else 1.0, 1.05 * self._total / done if done and self._total else 2.0)
        old = self._columns
        self._columns = Columns.empty(int(rows * scale) + 16, int(payload * scale) + 64)
        for before, now in zip(old[:-1], self._columns[:-1], strict=True):
            now[: self._frames] = before[: self._frames]
        self._columns.data[: self._payload] = old.data[: self._payload]
        return self._columns

    def finish(self) -> Columns:
        """The columns, cut to what they hold."""
        for column in self._columns[:-1]:
            column.resize(self._frames, refcheck=False)
        self._columns.data.resize(self._payload, refcheck=False)
        return self._columns
