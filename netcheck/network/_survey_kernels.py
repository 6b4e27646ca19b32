"""The loop of a survey over frames, arrays only. A slow twin is in ``tests/naive.py``."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numba import types

from netcheck._compile.define import I64, cached_kernel, columns_of, kernel_helper, tuple_of
from netcheck.capture import ERROR, EXTENDED, FD, REMOTE, Columns
from netcheck.network._survey_book import (
    BYTES,
    C_BEYOND,
    C_EARLIEST,
    C_ERRORS,
    C_FD,
    C_FRAMES,
    C_LATEST,
    C_REMOTES,
    C_STRETCH,
    DONE,
    FIRST_OCTAVE,
    I_COUNT,
    I_FD,
    I_GAPS,
    I_KEY,
    I_LAST,
    I_LENGTH,
    I_LONGEST,
    I_RUN,
    I_STRETCH,
    IDS,
    KINDS,
    MOST_IDS,
    OCTAVES,
    PAGES,
    S_BEFORE,
    S_CHANNEL,
    S_END,
    S_START,
    STRETCHES,
    Book,
)
from netcheck.network._survey_checks import close_run, step
from netcheck.network._traffic import SILENCE_NS

_ALL: Final = np.uint64(0xFFFFFFFFFFFFFFFF)
_COLUMNS = columns_of(Columns, is_read_only=True)
_BOOK = tuple_of(
    Book,
    types.int32[::1],
    types.int64[:, ::1],
    types.int64[:, ::1],
    types.int64[:, ::1],
    types.int32[:, ::1],
    types.uint8[:, ::1],
    types.int32[:, ::1],
    types.int32[:, :, :, ::1],
    types.uint8[:, :, ::1],
    types.uint64[:, ::1],
    types.uint8[:, ::1],
    types.int32[:, :, ::1],
    types.uint8[:, :, ::1],
    types.uint8[:, ::1],
    types.uint64[:, ::1],
    types.int32[:, ::1],
    types.int32[:, ::1],
    types.int64[:, ::1],
    types.int64[::1],
)


@kernel_helper
def _number_of(book: Book, key: Any) -> Any:
    """The id's number, given now if it is new; -1 where there are too many."""
    mask = np.int64(len(book.table) - 1)
    slot = np.int64((np.uint64(key) * np.uint64(0x9E3779B97F4A7C15)) >> np.uint64(40)) & mask
    while book.table[slot] != 0:
        number = np.int64(book.table[slot]) - 1
        if book.rows[number, I_KEY] == key:
            return number
        slot = (slot + 1) & mask
    number = book.state[IDS]
    if number == MOST_IDS:
        return np.int64(-1)
    book.table[slot] = number + 1
    book.state[IDS] = number + 1
    book.rows[number, I_KEY] = key
    for kind in range(KINDS):
        book.possible[number, kind] = _ALL
    return number


@kernel_helper
def _stretch_of(book: Book, channel: Any, now: Any) -> Any:
    """Row of the awake stretch that a frame of the channel is in; a new one after more than a second."""
    row = book.channels[channel, C_STRETCH]
    if row == 0 or abs(now - book.stretches[row, S_END]) > SILENCE_NS:
        before = row
        row = book.state[STRETCHES]
        book.state[STRETCHES] = row + 1
        book.channels[channel, C_STRETCH] = row
        book.stretches[row, S_CHANNEL] = channel
        book.stretches[row, S_START] = now
        book.stretches[row, S_BEFORE] = before
    book.stretches[row, S_END] = now
    return row


@kernel_helper
def _longest_outside(book: Book, number: int, stretch: int) -> Any:
    """The longest time awake without the id in stretches up to the one before ``stretch``, ns."""
    longest = np.int64(0)
    row = book.stretches[stretch, S_BEFORE]
    mine = book.rows[number, I_STRETCH]
    while row != mine:
        longest = max(longest, book.stretches[row, S_END] - book.stretches[row, S_START])
        row = book.stretches[row, S_BEFORE]
    if mine != 0:
        longest = max(longest, book.stretches[mine, S_END] - book.rows[number, I_LAST])
    return longest


@kernel_helper
def _add_gap(book: Book, number: int, gap: Any) -> None:
    octave = np.int64(0)
    index = gap >> 10
    low = index << 10
    if gap >> FIRST_OCTAVE:
        top = np.int64(FIRST_OCTAVE)
        while gap >> (top + 1) and top < FIRST_OCTAVE + OCTAVES - 2:
            top += 1
        octave = top - FIRST_OCTAVE + 1
        index = min((gap - (np.int64(1) << top)) >> (top - 8), 255)
        low = (np.int64(1) << top) + (index << (top - 8))
    page = np.int64(book.page_of[number, octave])
    if page == 0:
        page = book.state[PAGES]
        book.state[PAGES] = page + 1
        book.page_of[number, octave] = page
    book.page_counts[page, index] += 1
    book.page_sums[page, index] += gap - low
    book.rows[number, I_GAPS] += 1


@kernel_helper
def _changed(book: Book, number: int, frames: Columns, frame: int) -> Any:
    """Whether the payload differs from the one before; each byte that does is counted."""
    length = min(int(frames.length[frame]), BYTES)
    start = frames.start[frame]
    different = length != book.rows[number, I_LENGTH]
    for byte in range(length):
        if frames.data[start + byte] != book.last[number, byte]:
            book.changes[number, byte] += 1
            different = True
    return different


@kernel_helper
def _take_payload(book: Book, number: int, frames: Columns, frame: int, is_step: bool) -> None:
    length = min(int(frames.length[frame]), BYTES)
    start = frames.start[frame]
    row = book.rows[number]
    if row[I_COUNT] > 0:
        different = _changed(book, number, frames, frame)
        if is_step:
            step(book, number, frames.data, start, min(length, row[I_LENGTH]), different)
        if not different:
            row[I_RUN] += 1
            return
        close_run(book, number)
    row[I_RUN] = 1
    row[I_LENGTH] = length
    for byte in range(length):
        book.last[number, byte] = frames.data[start + byte]


@kernel_helper
def _take_message(book: Book, number: int, frames: Columns, frame: int, stretch: int) -> None:
    now = frames.time_ns[frame]
    row = book.rows[number]
    is_step = row[I_COUNT] > 0 and row[I_STRETCH] == stretch
    if is_step:
        gap = max(now - row[I_LAST], 0)
        _add_gap(book, number, gap)
        row[I_LONGEST] = max(row[I_LONGEST], gap)
    else:
        outside = max(_longest_outside(book, number, stretch), now - book.stretches[stretch, S_START])
        row[I_LONGEST] = max(row[I_LONGEST], outside)
    _take_payload(book, number, frames, frame, is_step)
    row[I_COUNT] += 1
    row[I_LAST] = now
    row[I_STRETCH] = stretch
    book.lengths[number, min(frames.length[frame], 64)] += 1
    if frames.flags[frame] & FD:
        row[I_FD] += 1


@cached_kernel(types.void(_COLUMNS, _BOOK))
def take(frames: Columns, book: Book) -> None:
    """Takes frames from the book's DONE on; stops before a frame for which the book may have no room."""
    state = book.state
    frame = state[DONE]
    while frame < len(frames.time_ns):
        if (
            (state[IDS] == len(book.rows) and state[IDS] < MOST_IDS)
            or state[PAGES] == len(book.page_counts)
            or state[STRETCHES] == len(book.stretches)
        ):
            break
        number = np.int64(frames.channel[frame])
        now = frames.time_ns[frame]
        flags = frames.flags[frame]
        channel = book.channels[number]
        if channel[C_FRAMES] == 0:
            channel[C_EARLIEST] = channel[C_LATEST] = now
        channel[C_FRAMES] += 1
        channel[C_EARLIEST] = min(channel[C_EARLIEST], now)
        channel[C_LATEST] = max(channel[C_LATEST], now)
        if flags & ERROR:
            channel[C_ERRORS] += 1
        elif flags & REMOTE:
            channel[C_REMOTES] += 1
        else:
            if flags & FD:
                channel[C_FD] += 1
            stretch = _stretch_of(book, number, now)
            wide = np.int64(1 if flags & EXTENDED else 0)
            found = _number_of(book, (number << 1 | wide) << 29 | np.int64(frames.can_id[frame]))
            if found < 0:
                channel[C_BEYOND] += 1
            else:
                _take_message(book, found, frames, frame, stretch)
        frame += 1
    state[DONE] = frame


@cached_kernel(types.void(_BOOK))
def finish(book: Book) -> None:
    """Closes the last run of every id, and the time from its last frame to the end of the channel."""
    for number in range(book.state[IDS]):
        row = book.rows[number]
        close_run(book, number)
        stretch = book.channels[row[I_KEY] >> 30, C_STRETCH]
        if row[I_STRETCH] == stretch:
            outside = book.stretches[stretch, S_END] - row[I_LAST]
        else:
            outside = _longest_outside(book, number, stretch)
            outside = max(outside, book.stretches[stretch, S_END] - book.stretches[stretch, S_START])
        row[I_LONGEST] = max(row[I_LONGEST], outside)


@cached_kernel(types.int64(I64, types.float64[::1], types.int64, types.float64[::1]))
def busiest(time_ns: Any, bits: Any, window_ns: int, most: Any) -> int:
    """Raises ``most[0]`` to the most bits that any stretch of ``window_ns`` holds, by frames' time stamps.

    Returns the first frame of the stretch that ends with the last one: those before it are done with. A time
    stamp up to a second behind the latest counts as the latest; one further behind begins anew.
    """
    total = 0.0
    begin = 0
    latest = np.int64(0)
    for frame in range(len(time_ns)):
        now = time_ns[frame]
        if frame == 0 or now < latest - SILENCE_NS:
            begin, total, latest = frame, 0.0, now
        latest = max(latest, now)
        total += bits[frame]
        while latest - time_ns[begin] >= window_ns:
            total -= bits[begin]
            begin += 1
        most[0] = max(most[0], total)
    return begin
