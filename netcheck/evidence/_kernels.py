"""Loops over frames and gaps, arrays only. Slow twins are in ``tests/naive.py``.

Called through ``netcheck._compile``.
"""

from __future__ import annotations

import numpy as np
from numba import njit, types

from netcheck._compile.define import I32, I64, Column, cached_kernel, columns_of, read_only, slot_of
from netcheck.capture import Columns
from netcheck.evidence._bundle import BYTES, ROWS, Bundle

_PAIRS = read_only(types.int64, 2)
_COLUMNS = columns_of(Columns, is_read_only=True)
_BUNDLE = columns_of(Bundle)


@njit(inline="always")
def _copy_eight(source: Column, begin: int, target: Column, at: int) -> None:
    """Eight bytes; all are read before the first is written, so that they can be moved as one word."""
    a, b, c, d = source[begin], source[begin + 1], source[begin + 2], source[begin + 3]
    e, f, g, h = source[begin + 4], source[begin + 5], source[begin + 6], source[begin + 7]
    target[at], target[at + 1], target[at + 2], target[at + 3] = a, b, c, d
    target[at + 4], target[at + 5], target[at + 6], target[at + 7] = e, f, g, h


@cached_kernel(types.void(I32, I32, I32, _COLUMNS, _BUNDLE))
def keep_watched(entry: Column, stretch: Column, groups: Column, columns: Columns, bundle: Bundle) -> None:
    """Copies the frames whose entry has a group to the bundle, which has room for them and 8 bytes more.

    entry, stretch: as in ``Placed``
    groups: of each entry, -1 for none
    """
    time_ns, _, _, _, length, start, data = columns
    times, group_of, stretches, lengths, starts, payload, state = bundle
    row = state[ROWS]
    at = state[BYTES]
    for frame in range(len(entry)):
        number = entry[frame]
        group = groups[number] if number >= 0 else np.int32(-1)
        if group < 0:
            continue
        times[row] = time_ns[frame]
        group_of[row] = group
        stretches[row] = stretch[frame]
        lengths[row] = length[frame]
        starts[row] = at
        begin = start[frame]
        size = np.int64(length[frame])
        copied = 0
        if begin + 8 <= len(data):  # most payloads in one go
            _copy_eight(data, begin, payload, at)
            copied = 8
        for byte in range(copied, size):
            payload[at + byte] = data[begin + byte]
        at += size
        row += 1
    state[ROWS] = row
    state[BYTES] = at


@cached_kernel(types.int64(I64, I32, _PAIRS, types.int64, types.int64, types.int64[::1]))
def walk_gaps(
    time_ns: Column, stretch: Column, breaks: Column, first: int, last_ns: int, gaps: Column
) -> int:
    """Gaps of a message's frames, the start and the end of each awake stretch counted like frames.

    stretch: the awake stretch of each frame
    breaks:  between two stretches: the end of one and the start of the next, ns
    first:   the stretch before the first break
    last_ns: time of the frame or the start before
    gaps:    room for as many as there are frames and breaks

    Gives the time of the last frame, or of the last start if it came later.
    """
    done = 0
    count = 0
    for frame in range(len(time_ns) + 1):
        until = stretch[frame] - first if frame < len(time_ns) else len(breaks)
        while done < until:
            gaps[count] = max(breaks[done, 0] - last_ns, 0)
            last_ns = breaks[done, 1]
            done += 1
            count += 1
        if frame < len(time_ns):
            gaps[count] = max(time_ns[frame] - last_ns, 0)
            last_ns = time_ns[frame]
            count += 1
    return last_ns


@cached_kernel(types.int64(I64, I64, types.int64, types.int64[:, ::1], types.int64[::1]))
def add_gaps(gaps: Column, counts: Column, begin: int, table: Column, state: Column) -> int:
    """Adds gaps from place ``begin`` on to an open-addressed table of gaps and how often each came.

    counts: how often each gap came; of length 0: once each
    table:  int64, (a power of two, 2), an empty row has the gap -1
    state:  int64, (1,): how many different gaps are in it; it takes half as many as it has rows

    Gives the place of the first gap that was not added, as there was no room for it.
    """
    known = state[0]
    place = begin
    while place < len(gaps):
        gap = gaps[place]
        slot = slot_of(gap, table)
        if table[slot, 0] < 0:
            if 2 * known >= len(table):
                break
            known += 1
            table[slot, 0] = gap
            table[slot, 1] = 0
        table[slot, 1] += counts[place] if len(counts) else 1
        place += 1
    state[0] = known
    return place
