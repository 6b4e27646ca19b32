"""A capture file in another format than candump text, frame by frame; slower for that.

Whatever the format, what gives no frame is counted, and the first of it is named.
"""

from __future__ import annotations

from collections.abc import Generator
from itertools import islice
from typing import Final

import numpy as np

from netcheck.capture._chunks import ByteSource
from netcheck.capture._codes import MILLISECOND, MOST_CHANNELS, NAMED, REASONS
from netcheck.capture._columns import Batch
from netcheck.capture._ledger import (
    Skipped,
    excerpt,
    has_times,
    skipped_warning,
    steps_back_warning,
    untimed_warning,
)
from netcheck.capture._records import FrameRecord, RecordReader, columns_of_records, fault_of
from netcheck.errors import InputError

_BYTES_A_FRAME: Final = 60  # of a text format, about; turns bytes of a chunk to frames


class RecordLog:
    """Frames of a ``RecordReader`` as batches of columns."""

    def __init__(self, source: ByteSource, reader: RecordReader) -> None:
        self.file = source.file
        self.total = source.total
        self.channels: dict[str, int] = {}
        self.frames = 0
        self._source = source
        self._reader = reader
        self._refused: list[Skipped] = []  # of a binary format
        self._refused_count = 0
        self._met = 0  # frames, of which some may still wait for their batch
        self._untimed = 0
        self._back = [0, 0, 0]  # steps, first frame, largest
        self._now: int | None = None

    @property
    def skipped(self) -> int:
        """Lines, or records of a binary format, that were not frames."""
        return self._refused_count + (self._reader.lines.skipped_count if self._reader.lines else 0)

    @property
    def lines(self) -> int:
        """Unknown: before the frames stands a head."""
        return 0

    @property
    def has_times(self) -> bool:
        """Whether the frames so far have time stamps."""
        return has_times(self.frames, self._untimed)

    def batches(self, threads: int, chunk_bytes: int) -> Generator[Batch, None, None]:
        """Columns in file order; ``threads`` means nothing here."""
        most = max(1, chunk_bytes // _BYTES_A_FRAME)
        before = 0
        frames = self._good()
        while pile := list(islice(frames, most)):
            yield self._batch(pile, before)
            before = self.skipped
        if not self.frames:
            raise self._no_frame()

    def _good(self) -> Generator[FrameRecord, None, None]:
        for record in self._reader.records():
            reason = record if isinstance(record, int) else fault_of(record)
            if reason:
                self._refuse(reason)
            elif isinstance(record, FrameRecord):
                self._met += 1
                yield record

    def _refuse(self, reason: int) -> None:
        if self._reader.lines:
            self._reader.lines.note(reason)
            return
        self._refused_count += 1
        if len(self._refused) < NAMED:
            text = excerpt(self._reader.last.encode("utf-8", "replace"))
            self._refused.append(Skipped(self._met + self._refused_count, reason, text))

    def _batch(self, records: list[FrameRecord], skipped_before: int) -> Batch:
        untimed = sum(record.time_ns is None for record in records)
        times = self._times(records)
        channels = [self._channel(record.channel) for record in records]
        columns, payload = columns_of_records(records, channels, times)
        self._note_times(columns.time_ns)
        self.frames += len(records)
        self._untimed += untimed
        skipped = self.skipped - skipped_before
        return Batch(columns, len(records), payload, skipped, self._source.passed(), untimed)

    def _times(self, records: list[FrameRecord]) -> list[int]:
        """As found; a frame without one comes 1 ms after the one before."""
        times = []
        now = -MILLISECOND if self._now is None else self._now
        for record in records:
            now = now + MILLISECOND if record.time_ns is None else record.time_ns
            times.append(now)
        return times

    def _channel(self, name: str) -> int:
        index = self.channels.setdefault(name, len(self.channels))
        if index >= MOST_CHANNELS:
            raise InputError(
                self.file, f"has more than {MOST_CHANNELS} different channels", remedy="check the file"
            )
        return index

    def _note_times(self, times: np.ndarray[tuple[int], np.dtype[np.int64]]) -> None:
        before = times[0] if self._now is None else self._now
        steps = np.diff(times, prepend=np.int64(before))
        back = np.flatnonzero(steps < 0)
        if len(back):
            if not self._back[0]:
                self._back[1] = self.frames + int(back[0]) + 1
            self._back[0] += len(back)
            self._back[2] = max(self._back[2], -int(steps.min()))
        self._now = int(times[-1])

    def close(self) -> None:
        """Closes the file."""
        self._source.close()

    def _no_frame(self) -> InputError:
        if self._source.fault:
            return InputError(
                self.file, f"{self._source.fault.text}; no frame before that", remedy="copy it again"
            )
        lines = self._reader.lines
        named = lines.skipped[:1] if lines else self._refused[:1]
        where = f"line {named[0].line}" if named and lines else ""
        why = f"; {REASONS[named[0].reason]}: “{named[0].text}”" if named else ""
        return InputError(
            self.file, f"no frame as {self._reader.name}{why}", where=where, remedy=self._reader.remedy()
        )

    def warnings(self) -> tuple[str, ...]:
        """What a person should know, in a fixed order."""
        found = []
        lines = self._reader.lines
        if lines and lines.skipped_count:
            found.append(skipped_warning(lines.skipped_count, lines.number, lines.skipped))
        if self._refused_count:
            of = self.frames + self._refused_count
            found.append(skipped_warning(self._refused_count, of, self._refused, "record"))
        if self._source.fault:
            found.append(f"{self._source.fault.text}: only what comes before that was read")
        elif lines and lines.unfinished:
            found.append(f"line {lines.number}, the last one, has no line end: it may have been cut off")
        found += self._reader.remarks()
        if self._untimed:
            found.append(untimed_warning(self._untimed))
        if self._back[0]:
            found.append(steps_back_warning(self._back[0], f"frame {self._back[1]:,}", self._back[2]))
        return tuple(found)
