"""The door to captures: whole files, or a stream of chunks in bounded memory."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Generator, Iterator, Mapping
from contextlib import closing
from functools import partial
from pathlib import Path
from typing import Final, Protocol

from netcheck.capture._candump import CandumpText, has_candump_frames
from netcheck.capture._capture import Capture, Columns
from netcheck.capture._chunks import ByteSource
from netcheck.capture._columns import Batch, Gathered
from netcheck.capture._ledger import has_times
from netcheck.capture._record_log import RecordLog
from netcheck.capture._suffixes import CSV_SUFFIXES, PYTHON_CAN_FORMATS
from netcheck.errors import UsageError

CHUNK_BYTES: Final = 1 << 22
_PACKED: Final = (".gz", ".xz", ".zst", ".zstd")
_PROGRESS_S: Final = 0.25  # seconds between two calls of a progress function

Progress = Callable[[int, int], None]


class Recording(Protocol):
    """What every format gives, whatever its file looks like."""

    file: str
    total: int  # bytes on disk, 0 where unknown

    @property
    def channels(self) -> dict[str, int]: ...
    @property
    def frames(self) -> int: ...
    @property
    def skipped(self) -> int: ...
    @property
    def lines(self) -> int: ...
    @property
    def has_times(self) -> bool: ...
    def warnings(self) -> tuple[str, ...]: ...
    def batches(self, threads: int, chunk_bytes: int) -> Generator[Batch, None, None]: ...
    def close(self) -> None: ...


class CaptureStream:
    """A capture file, chunk by chunk; made by ``open_capture``. Can be gone through once, and closed early.

    Iterating yields ``Capture`` chunks in file order, each with at least one frame. A chunk's ``channels``
    are those met so far, its ``skipped`` counts its own lines, its ``has_times`` is about its own frames, and
    its ``warnings`` are empty. Once exhausted, the totals of the file are in:

    channels: names in the order they first came; a channel's index is the same in every chunk
    frames:   number of frames
    skipped:  number of lines that were not frames
    lines:    number of lines; 0 where a file has no lines, or other ones before its frames
    warnings: what a person should know
    has_times: whether the frames have time stamps, as of a ``Capture``

    Raises InputError while iterating: when the file cannot be read on, or at its end when it has no frame.
    """

    def __init__(
        self,
        recording: Recording,
        threads: int,
        chunk_bytes: int,
        progress: Progress | None,
        reopen: Callable[[], CaptureStream],
    ) -> None:
        self.file = recording.file
        self.channels: tuple[str, ...] = ()
        self.frames = 0
        self.skipped = 0
        self.lines = 0
        self.warnings: tuple[str, ...] = ()
        self.has_times = True
        self._recording = recording
        self._batches = self._run(threads, chunk_bytes)
        self._progress = progress
        self._reopen = reopen
        self._told = time.monotonic()
        self._reuses_buffers = False

    def __iter__(self) -> Iterator[Capture]:
        before = 0
        for batch in self._batches:
            if not batch.frames:
                before += batch.skipped
                continue
            columns = batch.buffers() if self._reuses_buffers else batch.copied()
            timed = has_times(batch.frames, batch.untimed)
            yield self._capture(columns, batch.skipped + before, has_times=timed)
            before = 0

    def _run(self, threads: int, chunk_bytes: int) -> Generator[Batch, None, None]:
        recording = self._recording
        try:
            with closing(recording.batches(threads, chunk_bytes)) as batches:
                for batch in batches:
                    self._count()
                    self._tell(batch.done)
                    yield batch
        finally:
            self._count()
            recording.close()
        self.warnings = recording.warnings()
        if self._progress:
            self._progress(recording.total, recording.total)

    def _count(self) -> None:
        self.channels = tuple(self._recording.channels)
        self.frames = self._recording.frames
        self.skipped = self._recording.skipped
        self.lines = self._recording.lines
        self.has_times = self._recording.has_times

    def _tell(self, done: int) -> None:
        now = time.monotonic()
        if self._progress and now - self._told >= _PROGRESS_S:
            self._told = now
            self._progress(done, self._recording.total)

    def _capture(
        self, columns: Columns, skipped: int, warnings: tuple[str, ...] = (), *, has_times: bool
    ) -> Capture:
        return Capture(
            self.file, self.channels, *columns, skipped=skipped, warnings=warnings, has_times=has_times
        )

    def again(self) -> CaptureStream | None:
        """The same file from its beginning, or None where it cannot be read twice, as a pipe."""
        return self._reopen() if self._recording.total else None

    def reusing_buffers(self) -> CaptureStream:
        """From here on chunks are buffers, which saves time: the next one is written over the arrays."""
        self._reuses_buffers = True
        return self

    def read(self) -> Capture:
        """All that is left as one ``Capture``, with the warnings of the file."""
        gathered = Gathered(self._recording.total)
        for batch in self._batches:
            gathered.add(batch)
        return self._capture(gathered.finish(), self.skipped, self.warnings, has_times=self.has_times)

    def __enter__(self) -> CaptureStream:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Stops early; no more than tidy, as going through to the end closes by itself."""
        self._batches.close()
        self._recording.close()


def open_capture(
    path: str | os.PathLike[str],
    *,
    threads: int | None = None,
    chunk_bytes: int | None = None,
    progress: Progress | None = None,
    csv: str = "",
) -> CaptureStream:
    """A capture file to go through in chunks, in memory that does not grow with the file.

    threads:     how many work at once; default one for each core
    chunk_bytes: bytes of text in a chunk, about; a chunk has one line at least
    progress:    called now and then with the bytes done and the bytes in all (0 if unknown)
    csv:         what the header of a CSV file leaves open, such as ``time=ms,id=hex,data=dec``: the time in
                 s, ms, us or ns, ids and data bytes hex or dec. Other formats have no use for it

    Raises InputError when the file cannot be opened or is empty, UsageError for numbers below 1 and for a
    ``csv`` that says nothing of columns.
    """
    if (threads is not None and threads < 1) or (chunk_bytes is not None and chunk_bytes < 1):
        raise UsageError("threads and chunk_bytes must be 1 or more")
    recording = _recording(path, _hints(csv))
    again = partial(open_capture, path, threads=threads, chunk_bytes=chunk_bytes, progress=progress, csv=csv)
    return CaptureStream(recording, threads or cores(), chunk_bytes or CHUNK_BYTES, progress, again)


def _hints(csv: str) -> Mapping[str, str]:
    if not csv:
        return {}
    from netcheck.capture._csv_columns import read_csv_hints

    return read_csv_hints(csv)


def _recording(path: str | os.PathLike[str], hints: Mapping[str, str]) -> Recording:
    """The reader of a file, by its name, else by its first lines."""
    source = ByteSource(path)
    suffix = _suffix(source)
    if suffix in PYTHON_CAN_FORMATS:
        from netcheck.capture._python_can import PythonCanReader

        return RecordLog(source, PythonCanReader(source, suffix))
    if suffix in CSV_SUFFIXES:
        from netcheck.capture._csv import CsvReader

        return RecordLog(source, CsvReader(source, hints))
    if has_candump_frames(source.head):
        return CandumpText(source)
    from netcheck.capture._text_forms import TextFormReader, text_form

    form = text_form(source.head)
    return RecordLog(source, TextFormReader(source, form)) if form else CandumpText(source)


def read_capture(
    path: str | os.PathLike[str],
    *,
    threads: int | None = None,
    chunk_bytes: int | None = None,
    progress: Progress | None = None,
    csv: str = "",
) -> Capture:
    """A whole capture file; arguments and errors as for ``open_capture``."""
    return open_capture(path, threads=threads, chunk_bytes=chunk_bytes, progress=progress, csv=csv).read()


def _suffix(source: ByteSource) -> str:
    """The suffix that tells the format, without that of a compression."""
    name = Path(source.path).name.lower()
    if source.packing:
        name = name.removesuffix(Path(name).suffix) if Path(name).suffix in _PACKED else name
    return Path(name).suffix


def cores() -> int:
    """How many processors this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
