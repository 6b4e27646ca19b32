"""The loop over all frames of a chunk: what every bit did, and when. A slow twin is in ``tests/naive.py``."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from netcheck._compile.define import (
    GRID,
    ROW,
    Column,
    array,
    cached_kernel,
    columns_of,
    inlined_helper,
    kernel_helper,
    slot_of,
    tuple_of,
)
from netcheck.capture import EXTENDED, NON_DATA, Columns
from netcheck.find._book import (
    DONE,
    FRAMES,
    GAP_BINS,
    IS_BEGUN,
    LANES,
    LAST,
    LOGGED,
    M_COUNT,
    M_FIRST,
    M_KEY,
    M_LANE,
    M_LAST,
    M_LENGTH,
    M_SAMPLES,
    M_SILENCES,
    M_STEP,
    M_TYPICAL,
    MESSAGES,
    MOST_FLIPS_PLANE,
    MOST_SILENCES,
    ORIGIN,
    PLANES,
    SAMPLES,
    SILENT,
    MovementBook,
)

_WORDS = array(np.uint64)
_WORD_GRID = array(np.uint64, 2)
_COLUMNS = columns_of(Columns, is_read_only=True)
_BOOK = tuple_of(
    MovementBook,
    GRID,
    GRID,
    array(np.int32, 2),
    GRID,
    _WORDS,
    _WORDS,
    _WORDS,
    _WORD_GRID,
    _WORD_GRID,
    GRID,
    GRID,
    ROW,
)
_LEAST_SILENCE: Final = 400_000_000  # ns
_HALF: Final = SAMPLES // 2
_SILENT_TIMES: Final = 3  # of the typical gap


@kernel_helper
def _bytes_word(data: Column, at: Any, size: Any) -> Any:
    """Up to eight bytes as a little-endian word, zeros behind them."""
    word = np.uint64(0)
    for byte in range(size):
        word |= np.uint64(data[at + byte]) << np.uint64(8 * byte)
    return word


@kernel_helper
def _new_message(book: MovementBook, key: Any, slot: Any, now: Any, lanes: Any) -> Any:
    state = book.state
    number = state[MESSAGES]
    book.by_id[slot, 0] = book.messages[number, M_KEY] = key
    book.by_id[slot, 1] = number
    book.messages[number, M_LANE] = state[LANES]
    book.messages[number, M_FIRST] = now
    state[MESSAGES] = number + 1
    state[LANES] += lanes
    return number


@kernel_helper
def _gap_bin(gap: Any) -> Any:
    """Four an octave, from 1 µs."""
    rest = gap // 1000
    octave = np.int64(0)
    while rest >= 8:
        rest >>= 1
        octave += 4
    return min(octave + rest, np.int64(GAP_BINS - 1))


@kernel_helper
def _follow_gap(book: MovementBook, number: Any, gap: Any, now: Any) -> None:
    row = book.messages[number]
    book.gaps[number, _gap_bin(gap)] += 1
    if row[M_COUNT] == 1:
        row[M_TYPICAL] = gap
    typical = row[M_TYPICAL]
    if gap > _LEAST_SILENCE and gap > _SILENT_TIMES * typical and row[M_SILENCES] < MOST_SILENCES:
        place = book.state[SILENT]
        book.silences[place, 0] = number
        book.silences[place, 1] = row[M_LAST]
        book.silences[place, 2] = now
        book.state[SILENT] = place + 1
        row[M_SILENCES] += 1
    step = typical // 8 + 1
    row[M_TYPICAL] = typical + step if gap > typical else typical - step


@kernel_helper
def _thin_samples(book: MovementBook, number: Any, lanes: Any) -> None:
    """Every second sample goes, and from here on they are taken half as often."""
    row = book.messages[number]
    for place in range(_HALF):
        book.sampled[number, place] = book.sampled[number, 2 * place]
    for lane in range(row[M_LANE], row[M_LANE] + lanes):
        for place in range(_HALF):
            book.samples[lane, place] = book.samples[lane, 2 * place]
    row[M_SAMPLES] = _HALF
    apart = (book.sampled[number, _HALF - 1] - book.sampled[number, 0]) // _HALF
    row[M_STEP] = max(apart, 2 * row[M_STEP])


@kernel_helper
def _count_flips(book: MovementBook, lane: Any, changed: Any) -> None:
    """Adds 1 to the counter of each changed bit, all bits at once; a bit that changed too often is let go."""
    place = 0
    while changed != np.uint64(0) and place < PLANES:
        carry = book.planes[lane, place] & changed
        book.planes[lane, place] ^= changed
        if place == MOST_FLIPS_PLANE - 1:
            book.live[lane] &= ~carry
        changed = carry
        place += 1


@kernel_helper
def _has_room(book: MovementBook) -> Any:
    state = book.state
    return (
        state[MESSAGES] < len(book.messages)
        and state[LANES] + 8 <= len(book.before)
        and state[LOGGED] + 8 <= len(book.log)
        and state[SILENT] < len(book.silences)
    )


@inlined_helper
def _lanes_of(size: Any) -> Any:
    return np.int64(8) if size > 8 else np.int64(1)


@kernel_helper
def _take_words(book: MovementBook, number: Any, frame: Any, columns: Columns, gap: Any) -> None:
    """The payload of a frame of a message, eight bytes at a time. gap: ns since the frame before"""
    row, state = book.messages[number], book.state
    size, now = np.int64(columns.length[frame]), columns.time_ns[frame]
    sample = row[M_SAMPLES]
    is_sample = sample == 0 or now - book.sampled[number, sample - 1] >= row[M_STEP]
    for place in range(_lanes_of(size)):
        rest: Any = min(max(size - np.int64(8 * place), np.int64(0)), np.int64(8))
        lane = row[M_LANE] + place
        word = _bytes_word(columns.data, columns.start[frame] + 8 * place, rest)
        mask = ~np.uint64(0) if rest == 8 else (np.uint64(1) << np.uint64(8 * rest)) - np.uint64(1)
        if row[M_LENGTH] <= 8 * place < size:  # the first time that these bytes come
            book.first[lane] = book.before[lane] = word
        changed = (word ^ book.before[lane]) & mask
        if changed != np.uint64(0):
            book.before[lane] ^= changed
            if changed & book.live[lane]:
                entry = state[LOGGED]
                book.log[entry, 0] = lane
                book.log[entry, 1] = now
                book.log[entry, 2] = gap
                book.log[entry, 3] = np.int64(book.before[lane])
                state[LOGGED] = entry + 1
            _count_flips(book, lane, changed)
        if is_sample:
            book.samples[lane, sample] = book.before[lane]
    if is_sample:
        book.sampled[number, sample] = now
        row[M_SAMPLES] = sample + 1
        if sample + 1 == SAMPLES:
            _thin_samples(book, number, _lanes_of(size))


@kernel_helper
def _note_time(book: MovementBook, now: Any) -> None:
    """A frame of any kind."""
    state = book.state
    if state[IS_BEGUN] == 0:
        state[IS_BEGUN] = 1
        state[ORIGIN] = state[LAST] = now
    state[LAST] = max(state[LAST], now)
    state[FRAMES] += 1


@cached_kernel(_COLUMNS, _BOOK)
def note_movements(columns: Columns, book: MovementBook) -> None:
    """Takes frames from the state's DONE on; stops before one for which there may be no room."""
    frame = book.state[DONE]
    while frame < len(columns.time_ns) and _has_room(book):
        now, kind, size = columns.time_ns[frame], columns.flags[frame], np.int64(columns.length[frame])
        _note_time(book, now)
        if kind & NON_DATA:
            frame += 1
            continue
        key = np.int64(columns.channel[frame]) << 2 | np.int64(size > 8) << 1
        key = (key | np.int64((kind & EXTENDED) != 0)) << 29 | np.int64(columns.can_id[frame])
        slot = slot_of(key, book.by_id)
        number = book.by_id[slot, 1]
        if book.by_id[slot, 0] < 0:
            number = _new_message(book, key, slot, now, _lanes_of(size))
        row = book.messages[number]
        gap = np.int64(0)
        if row[M_COUNT]:
            gap = max(np.int64(now - row[M_LAST]), np.int64(0))
            _follow_gap(book, number, gap, now)
        _take_words(book, number, frame, columns, gap)
        row[M_LENGTH] = max(row[M_LENGTH], size)
        row[M_COUNT] += 1
        row[M_LAST] = now
        frame += 1
    book.state[DONE] = frame
