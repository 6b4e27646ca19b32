"""Loops over frames, arrays only. The slow twin is in ``tests/naive.py``."""

from __future__ import annotations

import numpy as np
from numba import types

from netcheck._compile.define import Column, cached_kernel, columns_of, slot_of, tuple_of
from netcheck.capture import EXTENDED, NON_DATA, Columns
from netcheck.network._tally import (
    BROKEN,
    DONE,
    EARLIEST,
    FIRST,
    FRAMES,
    HEARD,
    KNOWN,
    LAST,
    LATEST,
    STRETCH,
    Placed,
    TallyTables,
)
from netcheck.network._traffic import SILENCE_NS

_COLUMNS = columns_of(Columns, is_read_only=True)
_GRID = types.int64[:, ::1]
_BOOK = tuple_of(TallyTables, _GRID, _GRID, _GRID, types.int64[::1])
_PLACED = tuple_of(Placed, types.int32[::1], types.int32[::1], _GRID)


@cached_kernel(types.void(_COLUMNS, _BOOK, _PLACED))
def place_frames(columns: Columns, book: TallyTables, placed: Placed) -> None:
    """Counts frames from the state's DONE on, by channel, id width, id and length; finds awake stretches.

    Stops before a frame for whose entry the book has no room.
    """
    time_ns, can_id, flags, channel, length, _, _ = columns
    table, entries, spans, state = book
    entry_of, stretch_of, breaks = placed
    known = state[KNOWN]
    broken = state[BROKEN]
    frame = state[DONE]
    while frame < len(time_ns):
        number = np.int64(channel[frame])
        now = time_ns[frame]
        if flags[frame] & NON_DATA:
            entry_of[frame] = -1
        else:
            wide = np.int64(1 if flags[frame] & EXTENDED else 0)
            key = ((number << 1 | wide) << 29 | np.int64(can_id[frame])) << 8 | np.int64(length[frame])
            slot = slot_of(key, table)
            if table[slot, 0] < 0:
                if known == len(entries):
                    break
                table[slot, 0] = entries[known, 0] = key
                table[slot, 1] = known
                known += 1
            entry = table[slot, 1]
            entries[entry, 1] += 1
            entry_of[frame] = entry
            if spans[number, HEARD] == 0:
                spans[number, FIRST] = now
            elif abs(now - spans[number, LAST]) > SILENCE_NS:
                breaks[broken, 0] = number
                breaks[broken, 1] = spans[number, LAST]
                breaks[broken, 2] = now
                broken += 1
                spans[number, STRETCH] += 1
            spans[number, HEARD] += 1
            spans[number, LAST] = now
            stretch_of[frame] = spans[number, STRETCH]
        if spans[number, FRAMES] == 0:
            spans[number, EARLIEST] = spans[number, LATEST] = now
        spans[number, FRAMES] += 1
        spans[number, EARLIEST] = min(spans[number, EARLIEST], now)
        spans[number, LATEST] = max(spans[number, LATEST], now)
        frame += 1
    state[DONE] = frame
    state[KNOWN] = known
    state[BROKEN] = broken


@cached_kernel(types.void(_GRID, _GRID))
def enter(table: Column, entries: Column) -> None:
    """Entries into an empty table that has room for them."""
    for entry in range(len(entries)):
        slot = slot_of(entries[entry, 0], table)
        table[slot, 0] = entries[entry, 0]
        table[slot, 1] = entry
