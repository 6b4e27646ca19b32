"""The loop that puts bits on the wire into windows, arrays only. A slow twin is in ``tests/naive.py``."""

from __future__ import annotations

from typing import Any

import numpy as np

from netcheck._compile.define import (
    GRID,
    array,
    cached_kernel,
    columns_of,
    inlined_helper,
    kernel_helper,
    tuple_of,
)
from netcheck.capture import ERROR, Columns
from netcheck.network._tally_book import (
    L_BEGIN,
    L_END,
    L_FAST,
    L_LATEST,
    L_LEAST,
    L_NOMINAL,
    L_SUM,
    RING,
    WINDOWS_NS,
    LoadBook,
    Placed,
)
from netcheck.network._tally_kernels import PLACED
from netcheck.network._wire_kernels import wire_bits

_COLUMNS = columns_of(Columns, is_read_only=True)
_LOAD = tuple_of(LoadBook, GRID, GRID, GRID, array(np.float64, 3), array(np.int64, 3), array(np.float64))


@inlined_helper
def _leave(row: Any, times: Any, bits: Any, window: Any, now: Any) -> Any:
    """Takes out of a window what came too long ago; gives the bits that are left in it."""
    begin, total = row[L_BEGIN + window], row[L_SUM + window]
    while begin < row[L_END] and now - times[begin & (RING - 1)] >= WINDOWS_NS[window]:
        total -= bits[begin & (RING - 1)]
        begin += 1
    row[L_BEGIN + window], row[L_SUM + window] = begin, total
    return total


@inlined_helper
def _append(row: Any, times: Any, bits: Any, now: Any, amount: Any) -> None:
    """A frame's time and bits, with those before it where the time is the same or the ring is full."""
    held = row[L_END] - min(row[L_BEGIN], row[L_BEGIN + 1])
    if held == RING:
        for window in range(len(WINDOWS_NS)):
            _leave(row, times, bits, window, now)
        held = row[L_END] - min(row[L_BEGIN], row[L_BEGIN + 1])
    last = (row[L_END] - 1) & (RING - 1)
    if held and (times[last] == now or held == RING):
        bits[last] += amount
        times[last] = now
    else:
        at = row[L_END] & (RING - 1)
        times[at], bits[at] = now, amount
        row[L_END] += 1


@inlined_helper
def _share(load: LoadBook, place: Any, total: Any) -> Any:
    """How full a window is, in nominal bit times."""
    share = np.float64(total & 0xFFFFFFFF)
    if total >> 32:
        share += np.float64(total >> 32) / load.ratios[place]
    return share


@kernel_helper
def _note_peaks(load: LoadBook, number: Any, window: Any, total: Any) -> None:
    """What is in a window, where it is more than ever before."""
    peaks = load.peaks[number]
    least = np.float64(0)
    for place in range(len(load.ratios)):
        share = _share(load, place, total)
        if share > peaks[place, window]:
            peaks[place, window] = share
            load.peak_bits[number, place, window] = total
        needed = peaks[place, window] * min(load.ratios[place], 1.0)
        least = min(least, needed) if place else needed
    load.rows[number, L_LEAST + window] = np.int64(least)


@inlined_helper
def _add_bits(load: LoadBook, number: Any, now: Any, amount: Any) -> None:
    """Bits of a frame into a channel's windows.

    What is too old leaves a window only when the window, with it, is fuller than the fullest so far: until
    then it can be no new peak. So it leaves in rows, and not with every frame.
    """
    row = load.rows[number]
    times, bits = load.times[number], load.bits[number]
    if row[L_END] == 0 or now < row[L_LATEST] - WINDOWS_NS[-1]:
        row[L_LATEST] = now
        for window in range(len(WINDOWS_NS)):
            row[L_BEGIN + window] = row[L_END]
            row[L_SUM + window] = 0
    now = max(now, row[L_LATEST])
    row[L_LATEST] = now
    _append(row, times, bits, now, amount)
    for window in range(len(WINDOWS_NS)):
        total = row[L_SUM + window] + amount
        row[L_SUM + window] = total
        if (total & 0xFFFFFFFF) + (total >> 32) > row[L_LEAST + window]:
            _note_peaks(load, number, window, _leave(row, times, bits, window, now))


@cached_kernel(_COLUMNS, PLACED, _LOAD)
def add_load(columns: Columns, placed: Placed, load: LoadBook) -> None:
    """Adds up the bits of all frames, and looks for the busiest 100 ms and the busiest second.

    A time stamp up to a second behind the latest counts as the latest; one further behind begins anew.
    """
    time_ns, can_id, flags, channel, length, start, data = columns
    for frame in range(len(time_ns)):
        kind = flags[frame]
        if kind & ERROR:
            continue
        wire = np.int64(placed.wire[frame])
        if wire < 0:
            wire = wire_bits(np.int64(can_id[frame]), kind, np.int64(length[frame]), start[frame], data)
        number = np.int64(channel[frame])
        nominal, fast = wire & 0xFFFF, wire >> 16
        load.rows[number, L_NOMINAL] += nominal
        load.rows[number, L_FAST] += fast
        _add_bits(load, number, time_ns[frame], nominal | fast << 32)
