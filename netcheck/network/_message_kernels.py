"""The loop over the frames of a shard, arrays only: gaps while awake, bits on the wire, and the payloads."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from netcheck._compile.define import (
    GRID,
    INT64,
    ROW,
    Column,
    array,
    cached_kernel,
    columns_of,
    inlined_helper,
    kernel_helper,
    read_only,
    tuple_of,
    word_at,
)
from netcheck.capture import EXTENDED, FD, Columns
from netcheck.network._gap_kernels import GAP_BOOK, add_gap, has_pages
from netcheck.network._survey_checks import close_run, step
from netcheck.network._tally_book import (
    BYTES,
    CHANGES,
    E_MESSAGE,
    I_BITS,
    I_CHANGES,
    I_COUNT,
    I_FAST_BITS,
    I_FD,
    I_FLAGS,
    I_HEADER,
    I_KIND,
    I_LENGTH,
    I_MOST,
    I_PENDING,
    I_RUN,
    I_WIRE,
    WORDS,
    MessageBook,
    Placed,
    Shard,
)
from netcheck.network._tally_kernels import PLACED
from netcheck.network._wire_kernels import classic_bits, classic_header, wire_bits

_COLUMNS = columns_of(Columns, is_read_only=True)
_BOOK = tuple_of(
    MessageBook,
    GRID,
    array(np.uint64, 2),
    array(np.uint64, 2),
    array(np.int32, 2),
    array(np.int32, 4),
    array(np.uint8, 3),
    array(np.uint64, 2),
    array(np.uint8, 2),
    array(np.int32, 3),
    array(np.uint64, 3),
    array(np.uint8, 2),
    array(np.uint64, 2),
    GRID,
    ROW,
)
_SHARD = tuple_of(Shard, _BOOK, GAP_BOOK)
_MOST_PENDING: Final = 255  # that a byte of ``pending`` holds
_EACH: Final = np.uint64(0x0101010101010101)
_LOW: Final = np.uint64(0x7F7F7F7F7F7F7F7F)
_HIGH: Final = np.uint64(0x8080808080808080)


def _first_bytes() -> NDArray[np.uint64]:
    """uint64[9]: masks of the first bytes of a little-endian word."""
    return np.array([(1 << 8 * size) - 1 for size in range(9)], np.uint64)


_FIRST: Final = _first_bytes()


@kernel_helper
def _word(data: Column, at: Any, size: Any) -> Any:
    """Up to eight bytes as a little-endian word, zeros behind them."""
    if at + 8 <= len(data):
        return word_at(data, at) & _FIRST[size]
    word = np.uint64(0)
    for byte in range(size):
        word |= np.uint64(data[at + byte]) << np.uint64(8 * byte)
    return word


@kernel_helper
def _add_pending(book: MessageBook, number: Any) -> None:
    """The changes that wait, each in a byte, to their sums."""
    for byte in range(BYTES):
        word = book.pending[number, byte >> 3]
        book.changes[number, byte] += np.int32((word >> np.uint64(8 * (byte & 7))) & np.uint64(0xFF))
    for place in range(book.pending.shape[1]):
        book.pending[number, place] = 0
    book.rows[number, I_PENDING] = 0


@inlined_helper
def _is_other(book: MessageBook, number: Any, data: Column, start: Any, length: Any, first: Any) -> Any:
    """Whether a payload differs from the one before; each byte that does is counted. first: its first word"""
    row = book.rows[number]
    is_other = length != row[I_LENGTH]
    for place in range((length + 7) >> 3):
        size = min(length - 8 * place, 8)
        word = _word(data, start + 8 * place, size) if place else first
        other = word ^ (book.last[number, place] & _FIRST[size])
        if other != np.uint64(0):
            is_other = True
            changed = (((other & _LOW) + _LOW) | other) & _HIGH  # the high bit of each byte that is not 0
            book.pending[number, place] += changed >> np.uint64(7)
    if is_other:
        row[I_PENDING] += 1
        if row[I_PENDING] == _MOST_PENDING:
            _add_pending(book, number)
    return is_other


@inlined_helper
def _keep(book: MessageBook, number: Any, data: Column, start: Any, length: Any, first: Any) -> None:
    """Keeps a payload as the last one. first: its first word"""
    row = book.rows[number]
    row[I_LENGTH] = length
    row[I_MOST] = max(row[I_MOST], length)
    book.last[number, 0] = first
    for place in range(1, WORDS if row[I_MOST] > 8 else 1):
        size = min(max(length - 8 * place, 0), 8)
        book.last[number, place] = _word(data, start + 8 * place, size) if size else np.uint64(0)


@inlined_helper
def _take_payload(book: MessageBook, number: Any, data: Column, start: Any, length: Any, is_step: Any) -> Any:
    """Looks at a payload for counters and checksums; gives whether it is the same as the one before."""
    row = book.rows[number]
    is_same = False
    first = _word(data, start, min(length, 8))
    if row[I_COUNT]:
        is_same = not _is_other(book, number, data, start, length, first)
        if is_step:
            step(book, number, data, start, min(length, row[I_LENGTH]), not is_same)
        if is_same:
            row[I_RUN] += 1
        else:
            close_run(book, number)
    if not is_same:
        row[I_RUN] = 1
        _keep(book, number, data, start, length, first)
    return is_same


@inlined_helper
def _follow_payload(book: MessageBook, number: Any, data: Column, start: Any, length: Any) -> Any:
    """Whether a payload is the same as the one before, and no more."""
    row = book.rows[number]
    first = _word(data, start, min(length, 8))
    is_same = row[I_COUNT] > 0 and length == row[I_LENGTH] and first == book.last[number, 0]
    for place in range(1, (length + 7) >> 3):
        is_same &= _word(data, start + 8 * place, min(length - 8 * place, 8)) == book.last[number, place]
    if not is_same:
        _keep(book, number, data, start, length, first)
    return is_same


@cached_kernel(_COLUMNS, read_only(np.int32), INT64, PLACED, read_only(np.int64, 2), _SHARD, INT64, INT64)
def take(  # noqa: PLR0913, PLR0917 - what was placed, and what to do with it
    columns: Columns,
    rows: Column,
    count: int,
    placed: Placed,
    entries: Column,
    shard: Shard,
    shift: int,
    is_checked: int,
) -> None:
    """Takes the frames at the first ``count`` of ``rows`` from the book's state on; fills in their bits.

    entries:    of the tally
    shift:      a message's number is that in the shard after this shift
    is_checked: not 0: counters and checksums are looked for

    Stops before a frame for whose gap there may be no room.
    """
    _, can_id, flags, _, lengths, starts, data = columns
    book, gaps = shard
    at = book.state[0]
    while at < count and has_pages(gaps.pages, gaps.page_counts):
        frame = np.uint64(rows[at])  # nothing is counted from the end
        entry = placed.entry[frame]
        number = entries[np.uint64(entry), E_MESSAGE] >> shift
        row = book.rows[number]
        length = min(np.int64(lengths[frame]), np.int64(BYTES))
        start, kind = starts[frame], np.int64(flags[frame])
        gap = placed.gap[frame]
        if gap >= 0:
            add_gap(gaps, number, gap)
        is_alike = row[I_COUNT] > 0 and kind == row[I_KIND] and length == row[I_LENGTH]
        if is_checked:
            is_same = _take_payload(book, number, data, start, length, gap >= 0)
        else:
            is_same = _follow_payload(book, number, data, start, length)
        if gap >= 0 and not is_same and row[I_CHANGES] < CHANGES:
            book.change_gaps[number, row[I_CHANGES]] = gap
            row[I_CHANGES] += 1
        extended = np.int64((kind & EXTENDED) != 0)
        if not is_alike:
            row[I_KIND] = kind
            row[I_FLAGS] |= kind
            row[I_HEADER] = classic_header(np.int64(can_id[frame]), extended, 0, length)
        if not (is_alike and is_same):
            if kind & FD:
                row[I_WIRE] = wire_bits(np.int64(can_id[frame]), kind, length, start, data)
            else:
                row[I_WIRE] = classic_bits(row[I_HEADER], extended, min(length, 8), book.last[number, 0])
        wire = row[I_WIRE]
        placed.wire[frame] = wire
        row[I_BITS] += wire & 0xFFFF
        if kind & FD:
            row[I_FAST_BITS] += wire >> 16
            row[I_FD] += 1
        row[I_COUNT] += 1
        at += 1
    book.state[0] = at


@cached_kernel(_BOOK, INT64)
def close_runs(book: MessageBook, messages: int) -> None:
    """Closes the last run of every message."""
    for number in range(messages):
        close_run(book, number)
        _add_pending(book, number)
