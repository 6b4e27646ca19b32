"""The bytes of a capture file, cut at line borders: mapped when plain, decompressed in a thread when not."""

from __future__ import annotations

import io
import mmap
import os
import queue
import stat
import threading
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from netcheck.capture._codes import LONGEST_LINE
from netcheck.capture._unpack import UnpackFault, detect, unpack
from netcheck.errors import InputError

HEAD: Final = 1 << 16  # bytes looked at before reading, whatever the chunk size
TAIL: Final = 1 << 18  # bytes kept to judge an unfinished last line
_BLOCK: Final = 1 << 20
_KEPT: Final = 1 << 24  # bytes of a mapped file that may stay resident behind the reader
_UTF8_MARK: Final = b"\xef\xbb\xbf"

Buffer = bytes | mmap.mmap
_Queue = queue.Queue[bytes | BaseException | None]


class Piece(NamedTuple):
    """Whole lines: ``text[begin:end]``. Only the last one of a file may end without a line end."""

    text: NDArray[np.uint8]
    begin: int
    end: int


class ByteSource:
    """A file as pieces of text.

    head:       its first bytes (decompressed)
    total:      bytes on disk, 0 where unknown
    fault:      why the compressed data broke off, or None; known once the pieces are exhausted
    unfinished: the last line has no line end; known then, too
    cut:        the unfinished last line of compressed data that broke off, which is in no piece
    """

    def __init__(self, path: str | os.PathLike[str]) -> None:
        self.file = os.fspath(path)
        self.fault: UnpackFault | None = None
        self.unfinished = False
        self.cut = b""
        self.head = b""
        self._recent = b""
        self._passed = 0
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None
        self._map: mmap.mmap | None = None
        try:
            self._open()
            self._mark = len(_UTF8_MARK) if self.head.startswith(_UTF8_MARK) else 0
            self.head = self.head[self._mark :]
        except OSError as error:
            raise _os_error(self.file, error) from error
        except ValueError as error:  # a character that no file name can have
            raise InputError(self.file, "cannot be a file name", remedy="check the name") from error

    def _open(self) -> None:
        if Path(self.file).is_dir():
            raise InputError(self.file, "is a directory, not a capture", remedy="name a file in it")
        self._raw = Path(self.file).open("rb", buffering=0)  # noqa: SIM115 - closed by close()
        status = os.fstat(self._raw.fileno())
        regular = stat.S_ISREG(status.st_mode)
        self.total = status.st_size if regular else 0
        start = _read_full(self._raw, 16)
        if not start:
            self._raw.close()
            raise InputError(self.file, "is empty", remedy="record again, or copy it again")
        self.packing = detect(start)
        if regular and self.packing is None:
            self._map = mmap.mmap(self._raw.fileno(), 0, access=mmap.ACCESS_READ)
            self._raw.close()  # the map stays
            self._blocks: Iterator[Buffer] = iter([self._map])
            self.head = self._map[:HEAD]
            return
        self._blocks = self._threaded(start)
        first: list[Buffer] = []
        size = 0
        for block in self._blocks:
            first.append(block)
            size += len(block)
            if size >= HEAD:
                break
        joined = b"".join(first)
        self.head = joined[:HEAD]
        self._blocks = _chain(joined, self._blocks)
        if not joined:
            what = self.fault.text if self.fault else "is empty after decompression"
            self.close()
            raise InputError(self.file, what, remedy="copy it again, or record again")

    # -- blocks

    def _threaded(self, start: bytes) -> Iterator[Buffer]:
        """Blocks of at most a few MB from a thread that reads and decompresses ahead."""
        blocks: _Queue = queue.Queue(maxsize=4)
        self._thread = threading.Thread(
            target=self._pump, args=(start, blocks), name="netcheck-unpack", daemon=True
        )
        self._thread.start()
        while (item := blocks.get()) is not None:
            if isinstance(item, UnpackFault):
                self.fault = item
            elif isinstance(item, OSError):
                raise _os_error(self.file, item) from item
            elif isinstance(item, BaseException):
                raise item
            else:
                self._recent = item[-TAIL:] if len(item) >= TAIL else (self._recent + item)[-TAIL:]
                yield item

    def _pump(self, start: bytes, blocks: _Queue) -> None:
        """Runs in the thread: blocks into the queue, then an error if there was one, then None."""
        try:
            for block in _gather(unpack(self.packing, self._counted(start))):
                if not self._put(blocks, block):
                    return
        except BaseException as error:  # raised again in the thread that reads
            self._put(blocks, error)
        self._put(blocks, None)

    def _put(self, blocks: _Queue, item: bytes | BaseException | None) -> bool:
        while not self._stop.is_set():
            try:
                blocks.put(item, timeout=0.1)
            except queue.Full:
                continue
            return True
        return False

    def _counted(self, start: bytes) -> Iterator[bytes]:
        self._passed = len(start)
        yield start
        while data := self._raw.read(_BLOCK):
            self._passed += len(data)
            yield data

    # -- pieces

    def pieces(self, chunk_bytes: int) -> Iterator[Piece]:
        """Pieces of about ``chunk_bytes``, one line at least; lines too long for a frame are shortened."""
        reach = max(chunk_bytes, LONGEST_LINE + 1)
        window = _Window(self._blocks, self._mark)
        while window.fill(reach):
            buffer, p = window.buffer, window.at
            cut = buffer.rfind(b"\n", p, p + chunk_bytes)
            if cut < 0:
                cut = buffer.find(b"\n", p, p + reach)
            if cut >= 0:
                end = cut + 1
            elif len(buffer) - p <= LONGEST_LINE:
                end = len(buffer)
                self.unfinished = True
                if self.fault:
                    self.cut = bytes(buffer[p:end])
                    return
            else:
                end = p + LONGEST_LINE + 1
            yield Piece(window.text(), p, end)
            window.at = end
            if cut < 0 and not self.unfinished:
                self.unfinished = not window.skip_line()
            self._leave(end)

    def _leave(self, place: int) -> None:
        """Gives back the pages of a mapped file that were read, so that memory stays bounded."""
        if self._map is None:
            return
        if place - self._passed > 2 * _KEPT and hasattr(mmap, "MADV_DONTNEED"):
            until = (place - _KEPT) // mmap.ALLOCATIONGRANULARITY * mmap.ALLOCATIONGRANULARITY
            self._map.madvise(mmap.MADV_DONTNEED, self._passed, until - self._passed)
            self._passed = until

    def stream(self) -> io.BufferedReader:
        """The text as a binary file, instead of pieces."""
        return io.BufferedReader(_BlockReader(self))

    def next_block(self) -> Buffer:
        """The next bytes for a reader of the stream; empty at the end."""
        return next(self._blocks, b"")

    def take(self, block: Buffer, at: int, wanted: int) -> bytes:
        """The bytes of a block from a place on."""
        if self._map is not None:
            self._passed = at
        return block[at : at + wanted]

    def passed(self) -> int:
        """Bytes on disk that were used so far, for a reader of the stream."""
        return self._passed

    def tail(self) -> bytes:
        """The last bytes of the text, after the pieces are exhausted."""
        return self._map[-TAIL:] if self._map is not None else self._recent

    def done(self, piece: Piece) -> int:
        """Bytes on disk that were used up to this piece."""
        return piece.end if self._map is not None else self._passed

    # -- closing

    def close(self) -> None:
        """Stops the thread and closes the file; pieces still in use stay readable."""
        self._stop.set()
        if self._thread is not None:
            self._thread.join()
        self._raw.close()
        self._map = None

    def __enter__(self) -> ByteSource:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


class _Window:
    """A buffer that moves over blocks: bytes from ``at`` on are still to be read."""

    def __init__(self, blocks: Iterator[Buffer], at: int) -> None:
        self._blocks = blocks
        self.buffer: Buffer = b""
        self._text = np.frombuffer(b"", np.uint8)
        self.at = 0
        self._skip = at

    def fill(self, wanted: int) -> bool:
        """Makes ``wanted`` bytes available if there are that many; False when none are left."""
        have = len(self.buffer) - self.at
        if have >= wanted:
            return True
        parts: list[Buffer] = [self.buffer[self.at :]] if have else []
        fresh = False
        while have < wanted and (block := next(self._blocks, None)) is not None:
            parts.append(block)
            have += len(block)
            fresh = True
        if fresh:
            self.buffer = parts[0] if len(parts) == 1 else b"".join(parts)
            self._text = np.frombuffer(self.buffer, np.uint8)
            self.at, self._skip = self._skip, 0
        return len(self.buffer) > self.at

    def text(self) -> NDArray[np.uint8]:
        """The buffer as an array that shares its memory."""
        return self._text

    def skip_line(self) -> bool:
        """Moves behind the next line end; False when there is none."""
        while True:
            found = self.buffer.find(b"\n", self.at)
            if found >= 0:
                self.at = found + 1
                return True
            self.at = len(self.buffer)
            if not self.fill(1):
                return False


class _BlockReader(io.RawIOBase):
    """Blocks as a file to read on from."""

    def __init__(self, source: ByteSource) -> None:
        self._source = source
        self._block: Buffer = b""
        self._at = 0

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: Any) -> int:
        if self._at >= len(self._block):
            self._block, self._at = self._source.next_block(), 0
        part = self._source.take(self._block, self._at, len(buffer))
        buffer[: len(part)] = part
        self._at += len(part)
        return len(part)


def _chain(first: bytes, rest: Iterator[Buffer]) -> Iterator[Buffer]:
    yield first
    yield from rest


def _gather(parts: Iterator[bytes]) -> Iterator[bytes]:
    """Joins small parts to blocks; what was gathered comes out before an error does."""
    pile: list[bytes] = []
    size = 0
    try:
        for part in parts:
            pile.append(part)
            size += len(part)
            if size >= _BLOCK:
                yield b"".join(pile)
                pile, size = [], 0
    except UnpackFault:
        if pile:
            yield b"".join(pile)
        raise
    if pile:
        yield b"".join(pile)


def _read_full(raw: io.FileIO, wanted: int) -> bytes:
    data = b""
    while len(data) < wanted and (more := raw.read(wanted - len(data))):
        data += more
    return data


def _os_error(file: str, error: OSError) -> InputError:
    if isinstance(error, FileNotFoundError):
        return InputError(file, "there is no such file", remedy="check the name and the folder")
    if isinstance(error, PermissionError):
        return InputError(
            file, "cannot be read: no permission", remedy="get read permission, or copy the file"
        )
    return InputError(file, f"cannot be read ({error.strerror or error})", remedy="copy it again")
