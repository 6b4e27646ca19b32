"""Columns of frames to candump log lines. Arrays in, bytes out; called through ``netcheck._compile``."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from netcheck._compile.define import I64, INT64, U8, Column, array, cached_kernel, columns_of, kernel_helper
from netcheck.capture import BRS, ERROR, ESI, EXTENDED, FD, REMOTE, Columns

_ERROR_BIT: Final = 0x20000000  # how candump marks the id of an error frame
_DIGITS: Final = np.frombuffer(b"0123456789ABCDEF", np.uint8)


@kernel_helper
def _decimal(out: Column, p: int, value: int, places: int) -> int:
    """A number with leading zeros at p; gives the place behind it."""
    for k in range(p + places - 1, p - 1, -1):
        out[k] = 48 + value % 10
        value //= 10
    return p + places


@kernel_helper
def _stamp(out: Column, p: int, time_ns: int) -> int:
    """``(seconds.fraction) `` at p: ten digits, then six, or nine for parts of a microsecond."""
    out[p] = 40  # (
    p = _decimal(out, p + 1, time_ns // 1_000_000_000, 10)
    out[p] = 46  # .
    rest = time_ns % 1_000_000_000
    p = _decimal(out, p + 1, rest, 9) if rest % 1000 else _decimal(out, p + 1, rest // 1000, 6)
    out[p] = 41  # )
    out[p + 1] = 32
    return p + 2


@kernel_helper
def _identifier(out: Column, p: int, can_id: Any, flags: int) -> int:
    """Three hex digits for 11 bits, eight for 29 and for error frames, and a #."""
    wide = 8 if flags & (EXTENDED | ERROR) else 3
    value = can_id | _ERROR_BIT if flags & ERROR else can_id
    for k in range(p + wide - 1, p - 1, -1):
        out[k] = _DIGITS[value & 15]
        value >>= 4
    out[p + wide] = 35  # #
    return p + wide + 1


@kernel_helper
def _content(out: Column, p: int, rows: Columns, i: int) -> int:
    """What follows the #: ``R4``, ``#1`` and payload, or payload alone; and the line end."""
    kind = rows.flags[i]
    if kind & REMOTE:
        out[p] = 82  # R
        p += 1
        if rows.length[i]:
            out[p] = 48 + rows.length[i]
            p += 1
    else:
        if kind & FD:
            out[p] = 35  # #
            out[p + 1] = 48 + (1 if kind & BRS else 0) + (2 if kind & ESI else 0)
            p += 2
        for k in range(rows.start[i], rows.start[i] + rows.length[i]):
            out[p] = _DIGITS[rows.data[k] >> 4]
            out[p + 1] = _DIGITS[rows.data[k] & 15]
            p += 2
    out[p] = 10
    return p + 1


_COLUMNS = columns_of(Columns, is_read_only=True)


@cached_kernel(_COLUMNS, U8, I64, array(np.uint8), gives=INT64)
def write_lines(rows: Columns, names: Column, name_ends: Column, out: Column) -> int:
    """One line a frame to ``out``, which is long enough; gives the bytes written. Times are 0 or later.

    names, name_ends: the channel names one behind the other, and where each ends
    """
    p = 0
    for i in range(len(rows.time_ns)):
        p = _stamp(out, p, rows.time_ns[i])
        channel = rows.channel[i]
        first = name_ends[channel - 1] if channel else 0
        for k in range(first, name_ends[channel]):
            out[p] = names[k]
            p += 1
        out[p] = 32
        p = _identifier(out, p + 1, np.int64(rows.can_id[i]), rows.flags[i])
        p = _content(out, p, rows, i)
    return p
