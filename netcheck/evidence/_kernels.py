"""Loops over frames and gaps, arrays only. Slow twins are in ``tests/naive.py``.

Called through ``netcheck._compile``.
"""

from __future__ import annotations

import numpy as np
from numba import njit, types

from netcheck._compile.define import I32, I64, Column, cached_kernel, columns_of, read_only
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
def keep_watched(entry: Column, awake: Column, groups: Column, columns: Columns, bundle: Bundle) -> None:
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
            _copy_eight(data, begin, payload, at)
            copied = 8
        for byte in range(copied, size):
            payload[at + byte] = data[begin + byte]
        at += size
        row += 1
    state[ROWS] = row
    state[BYTES] = at


@cached_kernel(types.int64(I64, I32, _PAIRS, types.int64, types.int64, types.int64[::1]))
def walk_gaps(time_ns: Column, awake: Column, breaks: Column, first: int, last_ns: int, gaps: Column) -> int:
    """Gaps of a message's frames, the start and the end of each awake period counted like frames.

    awake:   number of the awake period of each frame
    breaks:  between two periods: the end of one and the start of the next, ns
    first:   the period before the first break
    last_ns: time of the frame or the start before
    gaps:    room for as many as there are frames and breaks

    Gives the time of the last frame, or of the last start if it came later.
    """
    done = 0
    count = 0
    for frame in range(len(time_ns) + 1):
        until = awake[frame] - first if frame < len(time_ns) else len(breaks)
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
