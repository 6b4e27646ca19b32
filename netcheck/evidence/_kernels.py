"""Loops over frames and gaps, arrays only. Slow twins are in ``tests/naive.py``.

Called through ``netcheck._compile``.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from netcheck._compile.define import (
    GRID,
    I32,
    I64,
    INT64,
    ROW,
    Column,
    cached_kernel,
    columns_of,
    inlined_helper,
    put_word,
    read_only,
    slot_of,
    tuple_of,
    word_at,
)
from netcheck.capture import Columns
from netcheck.evidence._bundle_columns import BYTES, ROWS, BundleColumns
from netcheck.evidence._counts import (
    C_AWAKE,
    C_CUT,
    C_IS_WHOLE,
    C_RUN,
    C_RUNS,
    C_STEPS,
    C_VALUE,
    CounterBook,
)

_PAIRS = read_only(np.int64, 2)
_COLUMNS = columns_of(Columns, is_read_only=True)
_BUNDLE = columns_of(BundleColumns)
_COUNTER = tuple_of(CounterBook, GRID, GRID, ROW)


@cached_kernel(I32, I32, I32, _COLUMNS, _BUNDLE)
def keep_watched(
    entry: Column, awake: Column, groups: Column, columns: Columns, bundle: BundleColumns
) -> None:
    """Copies the frames whose entry has a group to the bundle, which has room for them and 8 bytes more.

    entry, awake: as in ``Placed``
    groups: of each entry, -1 for none
    """
    time_ns, _, _, _, length, start, data = columns
    times, group_of, periods, lengths, starts, payload, state = bundle
    row = state[ROWS]
    at = state[BYTES]
    for frame in range(len(entry)):
        number = entry[frame]
        group = groups[number] if number >= 0 else np.int32(-1)
        if group < 0:
            continue
        times[row] = time_ns[frame]
        group_of[row] = group
        periods[row] = awake[frame]
        lengths[row] = length[frame]
        starts[row] = at
        begin = start[frame]
        size = np.int64(length[frame])
        copied = 0
        if begin + 8 <= len(data):  # most payloads in one go
            put_word(payload, at, word_at(data, begin))
            copied = 8
        for byte in range(copied, size):
            payload[at + byte] = data[begin + byte]
        at += size
        row += 1
    state[ROWS] = row
    state[BYTES] = at


@cached_kernel(I64, I32, _PAIRS, INT64, INT64, INT64, ROW, gives=(INT64, INT64, INT64))
def walk_gaps(
    time_ns: Column, awake: Column, breaks: Column, first: int, last_ns: int, is_frame: int, gaps: Column
) -> tuple[int, int, int]:
    """Gaps of a message's frames, the start and the end of each awake period counted like frames.

    awake:    number of the awake period of each frame
    breaks:   between two periods: the end of one and the start of the next, ns
    first:    the period before the first break
    last_ns:  time of the frame or the start before
    is_frame: not 0: it was a frame
    gaps:     room for as many as there are frames and breaks

    Gives the time of the last frame, or of the last start if it came later; not 0 if that was a frame; and
    how many gaps lie between two frames: they are the first. The others begin or end at a border.
    """
    done = 0
    between = 0
    edge = len(gaps)
    for frame in range(len(time_ns) + 1):
        until = awake[frame] - first if frame < len(time_ns) else len(breaks)
        while done < until:
            edge -= 1
            gaps[edge] = max(breaks[done, 0] - last_ns, 0)
            last_ns = breaks[done, 1]
            is_frame = 0
            done += 1
        if frame < len(time_ns):
            gap = max(time_ns[frame] - last_ns, 0)
            if is_frame:
                gaps[between] = gap
                between += 1
            else:
                edge -= 1
                gaps[edge] = gap
            last_ns = time_ns[frame]
            is_frame = 1
    return last_ns, is_frame, between


@cached_kernel(read_only(np.uint64), I64, I32, ROW, ROW, gives=INT64)
def find_stretches(bits: Column, time_ns: Column, awake: Column, begins: Column, gaps: Column) -> int:
    """Frames that have other bits than the frame before: their numbers, the first frame among them.

    gaps: their time after the frame before; -1 where that was in another awake period, or is none
    begins, gaps: room for as many as there are frames

    Gives how many there are.
    """
    found = 0
    for frame in range(len(bits)):
        if frame and bits[frame] == bits[frame - 1]:
            continue
        begins[found] = frame
        gaps[found] = -1
        if frame and awake[frame] == awake[frame - 1]:
            gaps[found] = max(time_ns[frame] - time_ns[frame - 1], 0)
        found += 1
    return found


@inlined_helper
def _count(table: Column, state: Column, used: Any, number: Any) -> None:
    """One more of a number in a table that has a free row. used: place of its rows in use"""
    slot = slot_of(number, table)
    if table[slot, 0] < 0:
        table[slot, 0] = number
        table[slot, 1] = 0
        state[used] += 1
    table[slot, 1] += 1


@cached_kernel(I64, I32, INT64, INT64, _COUNTER, gives=INT64)
def count_steps(values: Column, awake: Column, begin: int, modulo: int, book: CounterBook) -> int:
    """Counts a counter's steps from frame ``begin`` on, and how many frames in a row had one value.

    Steps are taken inside an awake period. A row counts where a step begins and ends it.
    Gives the number of the first frame for which there may be no room.
    """
    state = book.state
    frame = begin
    while frame < len(values) and 2 * max(state[C_STEPS], state[C_RUNS]) < len(book.steps):
        value, period = values[frame], np.int64(awake[frame])
        is_same = period == state[C_AWAKE]
        step = (value - state[C_VALUE]) % modulo
        if is_same:
            _count(book.steps, state, C_STEPS, step)
        if is_same and step == 0:
            state[C_RUN] += 1
        else:
            if is_same and state[C_IS_WHOLE]:
                _count(book.runs, state, C_RUNS, state[C_RUN])
            else:
                state[C_CUT] = max(state[C_CUT], state[C_RUN])
            state[C_RUN] = 1
            state[C_IS_WHOLE] = is_same
        state[C_VALUE], state[C_AWAKE] = value, period
        frame += 1
    return frame


@cached_kernel(read_only(np.int64, 2), GRID)
def enter_counts(before: Column, table: Column) -> None:
    """The counts of one table, into a free one that is larger."""
    for row in range(len(before)):
        if before[row, 0] >= 0:
            slot = slot_of(before[row, 0], table)
            table[slot, 0] = before[row, 0]
            table[slot, 1] = before[row, 1]
