"""The bytes of a capture file, cut at line borders: read by position, or decompressed in a thread."""

from __future__ import annotations

import io
import os
import queue
import re
import stat
import threading
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import Any, Final, NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from netcheck.capture._codes import LONGEST_LINE
from netcheck.capture._disk import DiskFile, DiskReader, os_error
from netcheck.capture._pipe import Pipe
from netcheck.capture._unpack import UnpackFault, detect, unpack
from netcheck.capture._window import BlockWindow
from netcheck.errors import InputError, printable_name

HEAD: Final = 1 << 16  # bytes looked at before reading, whatever the chunk size
TAIL: Final = 1 << 18  # bytes kept to judge an unfinished last line
COLOUR: Final = b"\x1b["  # how the code of a colour begins
_COLOURS: Final = re.compile(rb"\x1b\[[0-9;?]{0,16}[A-Za-z]")
_LONGEST_COLOUR: Final = 20
_BLOCK: Final = 1 << 20
_PACKED_BLOCK: Final = 1 << 16
_UTF8_MARK: Final = b"\xef\xbb\xbf"
_NOTHING: Final = np.empty(0, np.uint8)

_UNPACKED_FREELY: Final = 1 << 28  # bytes that may come of any packed file
_MOST_RATIO: Final = 500  # a recording packs to a fiftieth, hardly to a hundredth

_Queue = queue.Queue[bytes | BaseException | None]


class _Raw(Protocol):
    """What bytes come from."""

    def read(self, wanted: int, /) -> bytes | None: ...
    def close(self) -> None: ...


class Piece(NamedTuple):
    """Whole lines: ``text[begin:end]``. Only the last one of a file may end without a line end.

    With no text, ``begin`` and ``end`` are places in the file: ``ByteSource.load`` reads them.
    """

    text: NDArray[np.uint8]
    begin: int
    end: int


class ByteSource:
    """A file as pieces of text.

    path, file: its name, and as it is shown
    head:       its first bytes (decompressed)
    total:      bytes on disk, 0 where unknown
    fault:      why the compressed data broke off, or None; known once the pieces are exhausted
    unfinished: the last line has no line end; known then, too
    cut:        the unfinished last line of compressed data that broke off, which is in no piece
    """

    def __init__(self, path: str | os.PathLike[str]) -> None:
        self.path = os.fspath(path)
        self.file = printable_name(path)
        self.fault: UnpackFault | None = None
        self.unfinished = False
        self.cut = b""
        self.head = b""
        self._recent = b""
        self._passed = 0
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None
        self._disk: DiskFile | None = None
        self._reader: DiskReader | None = None
        try:
            self._open()
            self._mark = len(_UTF8_MARK) if self.head.startswith(_UTF8_MARK) else 0
            self.head = self.head[self._mark :]
        except OSError as error:
            raise os_error(self.file, error) from error
        except ValueError as error:  # a character that no file name can have
            raise InputError(self.file, "cannot be a file name", remedy="check the name") from error

    def _open(self) -> None:
        mode = Path(self.path).stat().st_mode
        if stat.S_ISDIR(mode):
            raise InputError(self.file, "is a directory, not a capture", remedy="name a file in it")
        if not stat.S_ISREG(mode) and not stat.S_ISFIFO(mode):
            raise InputError(self.file, "is a device, not a capture", remedy="name a file or a pipe")
        if stat.S_ISFIFO(mode):
            self._raw: _Raw = Pipe(self.path, self._stop)
            self.total = 0
        else:
            opened = Path(self.path).open("rb", buffering=0)  # noqa: SIM115 - closed by close()
            self._raw = opened
            self.total = os.fstat(opened.fileno()).st_size
        start = _read_full(self._raw, 16)
        if not start:
            self._raw.close()
            raise InputError(self.file, "is empty", remedy="record again, or copy it again")
        self.packing = detect(start)
        if self.total and self.packing is None and isinstance(self._raw, io.FileIO):
            self._disk = DiskFile(self.file, os.dup(self._raw.fileno()), self.total)
            self._raw.close()
            self.head = self._disk.read(0, min(HEAD, self.total))
            return
        self._blocks = self._threaded(start)
        first: list[bytes] = []
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

    def take_out_colours(self) -> None:
        """From the start on, the text is without the codes that colour it on a screen."""
        if self._disk is not None:
            self._blocks = self._blocks_of(self._disk)
            self._disk = None
        self._blocks = _plain_blocks(self._blocks)
        self.head = _COLOURS.sub(b"", self.head)

    def _blocks_of(self, disk: DiskFile) -> Iterator[bytes]:
        for at in range(0, disk.size, _BLOCK):
            block = disk.read(at, min(_BLOCK, disk.size - at))
            self._passed = at + len(block)
            self._recent = (self._recent + block)[-TAIL:]
            yield block

    def _threaded(self, start: bytes) -> Iterator[bytes]:
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
                raise os_error(self.file, item) from item
            elif isinstance(item, BaseException):
                raise item
            else:
                self._recent = item[-TAIL:] if len(item) >= TAIL else (self._recent + item)[-TAIL:]
                yield item

    def _pump(self, start: bytes, blocks: _Queue) -> None:
        """Runs in the thread: blocks into the queue, then an error if there was one, then None."""
        try:
            for block in _gather(self._bounded(unpack(self.packing, self._counted(start)))):
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
        while data := self._raw.read(_PACKED_BLOCK):
            self._passed += len(data)
            yield data

    def _bounded(self, parts: Iterator[bytes]) -> Iterator[bytes]:
        """The same. Raises UnpackFault for data that no recording packs so well."""
        unpacked = 0
        for part in parts:
            unpacked += len(part)
            if self.packing and unpacked > max(_UNPACKED_FREELY, _MOST_RATIO * self._passed):
                raise UnpackFault(f"its {self.packing} data unpack to over {_MOST_RATIO} times their size")
            yield part

    # -- pieces

    def pieces(self, chunk_bytes: int) -> Iterator[Piece]:
        """Pieces of about ``chunk_bytes``, one line at least; lines too long for a frame are shortened."""
        if self._disk is not None:
            return self._pieces_on_disk(self._disk, chunk_bytes)
        return self._pieces_in_memory(chunk_bytes)

    def _pieces_on_disk(self, disk: DiskFile, chunk_bytes: int) -> Iterator[Piece]:
        p = self._mark
        while 0 <= p < disk.size:
            end = disk.cut(p, chunk_bytes)
            if end < 0 and disk.size - p <= LONGEST_LINE:
                end = disk.size
                self.unfinished = True
            is_long = end < 0
            if is_long:
                end = p + LONGEST_LINE + 1
            yield Piece(_NOTHING, p, end)
            p = end
            if is_long:
                p = disk.next_line(end)
                self.unfinished = p < 0

    def _pieces_in_memory(self, chunk_bytes: int) -> Iterator[Piece]:
        reach = max(chunk_bytes, LONGEST_LINE + 1)
        window = BlockWindow(self._blocks, self._mark)
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

    def load(self, piece: Piece, room: NDArray[np.uint8]) -> Piece:
        """The piece with its text, which is read into ``room`` where it is still on the disk."""
        if self._disk is None or len(piece.text):
            return piece
        text = room[: piece.end - piece.begin]
        self._disk.read_into(piece.begin, text)
        return Piece(text, 0, len(text))

    def stream(self) -> io.BufferedReader:
        """The text as a binary file, instead of pieces."""
        if self._disk is not None:
            self._reader = DiskReader(self._disk)
            return io.BufferedReader(self._reader, _BLOCK)
        return io.BufferedReader(_BlockReader(self))

    def next_block(self) -> bytes:
        """The next bytes for a reader of the stream; empty at the end."""
        return next(self._blocks, b"")

    def passed(self) -> int:
        """Bytes on disk that were used so far, for a reader of the stream."""
        return self._reader.at if self._reader else self._passed

    def tail(self) -> bytes:
        """The last bytes of the text, after the pieces are exhausted."""
        if self._disk is None:
            return _COLOURS.sub(b"", self._recent)
        begin = max(self._mark, self._disk.size - TAIL)
        return self._disk.read(begin, self._disk.size - begin)

    def done(self, piece: Piece) -> int:
        """Bytes on disk that were used up to this piece."""
        return piece.end if self._disk is not None else self._passed

    # -- closing

    def close(self) -> None:
        """Stops the thread and closes the file."""
        self._stop.set()
        if self._thread is not None:
            self._thread.join()
        self._raw.close()
        if self._disk is not None:
            self._disk.close()

    def __enter__(self) -> ByteSource:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


class _BlockReader(io.RawIOBase):
    """Blocks as a file to read on from."""

    def __init__(self, source: ByteSource) -> None:
        self._source = source
        self._block: bytes = b""
        self._at = 0

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: Any) -> int:
        if self._at >= len(self._block):
            self._block, self._at = self._source.next_block(), 0
        part = self._block[self._at : self._at + len(buffer)]
        buffer[: len(part)] = part
        self._at += len(part)
        return len(part)


def _plain_blocks(blocks: Iterator[bytes]) -> Iterator[bytes]:
    """The blocks without colour codes, also where one lies over two blocks."""
    rest = b""
    for block in blocks:
        text = rest + block
        last = text.rfind(b"\x1b", max(0, len(text) - _LONGEST_COLOUR))
        begun = last >= 0 and not _COLOURS.match(text, last)
        rest = text[last:] if begun else b""
        yield _COLOURS.sub(b"", text[:last] if begun else text)
    if rest:
        yield rest


def _chain(first: bytes, rest: Iterator[bytes]) -> Iterator[bytes]:
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


def _read_full(raw: _Raw, wanted: int) -> bytes:
    data = b""
    while len(data) < wanted and (more := raw.read(wanted - len(data))):
        data += more
    return data
