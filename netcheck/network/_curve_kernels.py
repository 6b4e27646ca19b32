"""The loop that adds bits on the wire to seconds. A slow twin is in ``tests/network``."""

from __future__ import annotations

from typing import Any

import numpy as np

from netcheck._compile.define import INT64, array, cached_kernel, columns_of
from netcheck.capture import Columns
from netcheck.network._curve import SECOND_NS
from netcheck.network._wire_kernels import wire_bits

_COLUMNS = columns_of(Columns, is_read_only=True)


@cached_kernel(_COLUMNS, INT64, array(np.int64, 3), gives=INT64)
def add_to_seconds(columns: Columns, start_ns: int, bits: Any) -> Any:
    """Adds each frame's bits to its channel's second; gives how many frames lie in none.

    bits: int64, (channels, seconds, 2): of the nominal phase, and of the data phase
    """
    time_ns, can_id, flags, channel, length, start, data = columns
    outside = np.int64(0)
    for frame in range(len(time_ns)):
        span = (time_ns[frame] - start_ns) // SECOND_NS
        if span < 0 or span >= bits.shape[1]:
            outside += 1
            continue
        wire = wire_bits(np.int64(can_id[frame]), flags[frame], np.int64(length[frame]), start[frame], data)
        number = np.int64(channel[frame])
        bits[number, span, 0] += wire & 0xFFFF
        bits[number, span, 1] += wire >> 16
    return outside
