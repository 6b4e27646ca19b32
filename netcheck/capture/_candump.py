"""Candump text to columns: pieces of text through the kernel, on several threads, joined in file order.

What is read (``_line`` has the grammar): log lines, with or without a direction letter; screen output with
any time stamp or none, with ``-x`` columns, with the bytes as characters; CAN FD, remote and error frames;
raw length codes. An id of three digits has 11 bits, one of eight 29 (or is an error frame, from 20000000 to
3FFFFFFF); any other number of digits is no frame, as with can-utils. Times are in ns as written: since the
epoch, or since the start of the recording (``time_rule``); a frame without a stamp comes 1 ms after the one
before it. Blank lines and lines that begin with # or ; are comments, and so is what follows a frame behind a
blank and # or ; or //. Colour codes (``-c``) are taken out if they stand in the first 64 KB. Not read, but
counted: CAN XL, binary digits (``-i``), bytes in reverse (``-S``).

A last line without a line end: what is no frame is called cut off. A frame is kept, as many files just end
so; it is doubted only when its id on its channel had more data bytes before (in the last 256 KB). In
compressed data that break off, the line they break off in is dropped and counted.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Generator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import closing
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from netcheck._compile import kernels
from netcheck.capture import _tally as tallied
from netcheck.capture._capture import Columns
from netcheck.capture._chunks import COLOUR, HEAD, TAIL, ByteSource, Piece
from netcheck.capture._codes import MOST_CHANNELS, NAMED
from netcheck.capture._columns import Batch, Workspace
from netcheck.capture._ledger import SHOWN, Ledger, Skipped, excerpt

_ZERO: Final = b"(000.000000) "  # the first stamp of candump -t d and -t z


class Slab:
    """Memory for one piece, used again for the next."""

    def __init__(self) -> None:
        self.columns = Columns.empty(0, 0)
        self.space = Workspace.empty()
        self.tally, self.notes = self.space.tally, self.space.notes
        self._text = np.empty(0, np.uint8)

    def text(self, size: int) -> NDArray[np.uint8]:
        """Room for ``size`` bytes of text."""
        if len(self._text) < size:
            self._text = np.empty(size, np.uint8)
        return self._text

    def fit(self, size: int) -> None:
        """Room for every line of ``size`` bytes: a frame takes ten characters at least, a byte of it two."""
        if len(self.columns.data) < size // 2 + 64:
            self.columns = Columns.empty(size // 10 + 2, size // 2 + 64)
        self.space.clear()


class Parsed(NamedTuple):
    """What the kernel made of a piece, in a slab."""

    piece: Piece
    slab: Slab
    names: list[bytes]
    skipped: list[Skipped]


def parse_piece(piece: Piece, deltas: int, slab: Slab) -> Parsed:
    """One piece through the kernel; the kernel runs without the interpreter lock."""
    slab.fit(piece.end - piece.begin)
    kernels("netcheck.capture._kernels").parse(
        piece.text, piece.begin, piece.end, deltas, slab.columns, slab.space
    )
    text = piece.text
    names = [
        text[at : at + wide].tobytes()
        for at, wide, _ in slab.notes[: min(slab.tally[tallied.CHANNELS], MOST_CHANNELS)]
    ]
    count = min(int(slab.tally[tallied.SKIPPED]), NAMED)
    skipped = [
        Skipped(int(line), int(reason), excerpt(text[at : min(at + SHOWN + 1, piece.end)].tobytes()))
        for line, reason, at in slab.notes[MOST_CHANNELS : MOST_CHANNELS + count]
    ]
    return Parsed(piece, slab, names, skipped)


def _load_and_parse(source: ByteSource, piece: Piece, deltas: int, slab: Slab) -> Parsed:
    loaded = source.load(piece, slab.text(piece.end - piece.begin))
    return parse_piece(loaded, deltas, slab)._replace(piece=piece)


def time_rule(head: bytes) -> int:
    """How the time stamps of a text with this start are meant; see ``parse``'s ``deltas``.

    Stamps of screen output with fewer than ten digits of seconds are relative: steps from frame to frame
    (``candump -t d``) or times since the first frame (``-t z``). Both begin with zero. Steps go up and down,
    times since the first frame do not, so they are steps when a tenth of them or more are below the one
    before, or all are equal; without a zero at the start, from 16 on, when a quarter is. Log lines are taken
    as written, unless 16 or more in the three-digit form of ``-t d`` begin with zero and a quarter goes back.
    """
    cut = head.rfind(b"\n") + 1 if len(head) >= HEAD else len(head)
    if not cut:
        return 0
    slab = Slab()
    parse_piece(Piece(np.frombuffer(head, np.uint8), 0, cut), 0, slab)
    tally = slab.tally
    steps = int(tally[tallied.SHORT]) - 1
    if steps > 0:
        zero = tally[tallied.SHORT_FIRST] == 0
        back = int(tally[tallied.SHORT_BACK])
        mixed = back * 10 >= steps if zero else steps >= 16 and back * 4 >= steps
        equal = (
            zero and steps >= 2 and tally[tallied.SHORT_SAME] == steps - 1 and tally[tallied.SHORT_LAST] > 0
        )
        return int((back > 0 and mixed) or equal)
    frames = int(tally[tallied.FRAMES])
    if frames > 16 and slab.columns.time_ns[0] == 0 and head.lstrip().startswith(_ZERO):
        return 2 if tally[tallied.BACK] * 4 >= frames - 1 else 0
    return 0


def has_candump_frames(head: bytes) -> bool:
    """Whether a text with this start has a candump frame in it."""
    slab = Slab()
    parse_piece(Piece(np.frombuffer(head, np.uint8), 0, len(head)), 0, slab)
    return bool(slab.tally[tallied.FRAMES])


class CandumpText:
    """A capture file of candump text."""

    def __init__(self, source: ByteSource) -> None:
        self.file = source.file
        self.total = source.total
        self._source = source
        self._ledger = Ledger(source.file)
        if COLOUR in source.head:
            source.take_out_colours()

    @property
    def channels(self) -> dict[str, int]:
        """Names with their indices, so far."""
        return self._ledger.channels

    @property
    def frames(self) -> int:
        """Frames so far."""
        return self._ledger.frames

    @property
    def has_times(self) -> bool:
        """Whether the frames so far have time stamps."""
        return self._ledger.has_times

    @property
    def skipped(self) -> int:
        """Lines that were no frames, so far."""
        return self._ledger.skipped

    @property
    def lines(self) -> int:
        """Lines so far, whatever is in them."""
        return self._ledger.lines

    def warnings(self) -> tuple[str, ...]:
        """What a person should know, at the end."""
        return self._ledger.warnings()

    def batches(self, threads: int, chunk_bytes: int) -> Generator[Batch, None, None]:
        """Columns piece by piece, in file order; each is good until the next is asked for."""
        source, ledger = self._source, self._ledger
        ledger.deltas = deltas = time_rule(source.head)
        ledger.zeroed = source.head.lstrip().startswith(_ZERO)
        with closing(_parsed(source, deltas, threads, chunk_bytes)) as all_parsed:
            for parsed in all_parsed:
                slab = parsed.slab
                done = source.done(parsed.piece)
                yield ledger.take(slab.columns, slab.tally, parsed.names, parsed.skipped, done)
        doubtful = source.unfinished and ledger.frames
        ledger.close(source, _lengths_of_last(source.tail()) if doubtful else [])

    def close(self) -> None:
        """Closes the file."""
        self._source.close()


def _parsed(source: ByteSource, deltas: int, threads: int, chunk_bytes: int) -> Generator[Parsed, None, None]:
    if threads == 1:
        slab = Slab()
        for piece in source.pieces(chunk_bytes):
            yield _load_and_parse(source, piece, deltas, slab)
        return
    free = [Slab() for _ in range(threads + 1)]
    waiting: deque[Future[Parsed]] = deque()
    with ThreadPoolExecutor(threads, "netcheck-parse") as pool:
        try:
            for piece in source.pieces(chunk_bytes):
                if not free:
                    parsed = waiting.popleft().result()
                    yield parsed
                    free.append(parsed.slab)
                waiting.append(pool.submit(_load_and_parse, source, piece, deltas, free.pop()))
            while waiting:
                yield waiting.popleft().result()
        finally:
            for future in waiting:
                future.cancel()


def _lengths_of_last(tail: bytes) -> list[int]:
    """Payload lengths of a text's frames of the same id, channel and kind as its last one, in order.

    None when the last line tells its own length, as screen output does.
    """
    if b"#" not in tail[tail.rfind(b"\n") + 1 :]:
        return []
    begin = tail.find(b"\n") + 1 if len(tail) == TAIL else 0
    slab = Slab()
    parse_piece(Piece(np.frombuffer(tail, np.uint8), begin, len(tail)), 0, slab)
    frames = int(slab.tally[tallied.FRAMES])
    last = frames - 1
    columns = slab.columns
    same = np.ones(frames, np.bool_)
    for column in (columns.can_id, columns.channel, columns.flags):
        same &= column[:frames] == column[last]
    return [int(length) for length in columns.length[:frames][same]]
