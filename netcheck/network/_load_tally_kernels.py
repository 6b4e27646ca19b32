"""The loop over frames that counts load, arrays only. A slow twin of its window is in ``tests/naive.py``."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import types

from netcheck._compile.define import I32, Column, cached_kernel, columns_of, kernel_helper, slot_of, tuple_of
from netcheck.capture import EXTENDED, NON_DATA, Columns
from netcheck.network._load_tally import (
    AWAKE,
    BITS,
    CLASSES,
    CLASSES_OF_OCTAVE,
    COUNT,
    FAST_BITS,
    FAST_PEAK,
    FAST_SUM,
    FIRST_OCTAVE,
    FLAGS,
    FRAMES,
    HEAD,
    LAST,
    LENGTH,
    NOW,
    PEAK,
    STEP_NS,
    STEPS,
    STRANGERS,
    STRETCH,
    SUM,
    LoadLedger,
)
from netcheck.network._traffic import SILENCE_NS

_GRID = types.int64[:, ::1]
_COLUMNS = columns_of(Columns, is_read_only=True)
_LEDGER = tuple_of(
    LoadLedger,
    _GRID,
    types.int64[::1],
    _GRID,
    types.int32[:, ::1],
    _GRID,
    _GRID,
    types.int64[:, :, ::1],
    types.int64[::1],
)


@kernel_helper
def _class_of(gap: Any) -> Any:
    """Class of a gap in ns: its octave, and the sixteenth of that it lies in."""
    octave, rest = np.int64(0), np.int64(gap)
    while rest > 0:
        rest >>= 1
        octave += 1
    sixteenths = gap >> (octave - 5) if octave > 5 else gap << (5 - octave)  # 16 to 31
    number = (octave - 1 - FIRST_OCTAVE) * CLASSES_OF_OCTAVE + sixteenths - CLASSES_OF_OCTAVE
    return min(max(number, 0), CLASSES - 1)


@kernel_helper
def _roll(row: Column, second: Column, step: Any) -> None:
    """Move a channel's second on to the step at hand; a clock that jumps back by more begins a new one."""
    head = row[HEAD]
    if row[FRAMES] == 0 or step >= head + STEPS or step <= head - STEPS:
        second[:, :] = 0
        row[SUM] = row[FAST_SUM] = 0
        row[HEAD] = step
        return
    while head < step:
        head += 1
        row[SUM] -= second[head % STEPS, 0]
        row[FAST_SUM] -= second[head % STEPS, 1]
        second[head % STEPS, :] = 0
    row[HEAD] = head


@cached_kernel(types.void(_COLUMNS, I32, I32, _LEDGER))
def tally_load(columns: Columns, nominal: Column, fast: Column, ledger: LoadLedger) -> None:
    """Adds frames to the ledger."""
    time_ns, can_id, flags, channel, length, _, _ = columns
    table, keys, messages, gaps, sums, channels, seconds, known = ledger
    for frame in range(len(time_ns)):
        number = np.int64(channel[frame])
        row, second, now = channels[number], seconds[number], time_ns[frame]
        step = now // STEP_NS
        _roll(row, second, step)
        second[step % STEPS, 0] += nominal[frame]
        second[step % STEPS, 1] += fast[frame]
        row[SUM] += nominal[frame]
        row[FAST_SUM] += fast[frame]
        if row[SUM] + row[FAST_SUM] > row[PEAK] + row[FAST_PEAK]:
            row[PEAK], row[FAST_PEAK] = row[SUM], row[FAST_SUM]
        if flags[frame] & NON_DATA:
            row[FRAMES] += 1
            continue
        if row[FRAMES] and abs(now - row[NOW]) > SILENCE_NS:
            row[AWAKE] += 1
        row[FRAMES] += 1
        row[NOW] = now
        key = number << 30 | np.int64((flags[frame] & EXTENDED) != 0) << 29 | np.int64(can_id[frame])
        slot = slot_of(key, table)
        if table[slot, 0] < 0:
            if known[0] == len(keys):
                row[STRANGERS] += 1
                continue
            table[slot, 0] = keys[known[0]] = key
            table[slot, 1] = known[0]
            known[0] += 1
        place = table[slot, 1]
        message = messages[place]
        gap = now - message[LAST]
        if message[COUNT] and message[STRETCH] == row[AWAKE] and gap > 0:
            which = _class_of(gap)
            gaps[place, which] += 1
            sums[place, which] += gap
        message[COUNT] += 1
        message[LENGTH] = max(message[LENGTH], np.int64(length[frame]))
        message[FLAGS] |= np.int64(flags[frame])
        message[BITS] += nominal[frame]
        message[FAST_BITS] += fast[frame]
        message[LAST] = now
        message[STRETCH] = row[AWAKE]
