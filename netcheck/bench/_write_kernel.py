"""Numba kernel: columns of frames to candump log lines. Arrays in, bytes out."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final, NamedTuple, TypeVar, cast

import numba
import numpy as np
from numba import types
from numpy.typing import NDArray

from netcheck.capture import BRS, ERROR, ESI, EXTENDED, FD, REMOTE

LONGEST_FIXED: Final = 40  # characters of a line besides the channel name and two for each byte
_ERROR_BIT: Final = 0x20000000  # how candump marks the id of an error frame
_DIGITS: Final = np.frombuffer(b"0123456789ABCDEF", np.uint8)

_Function = TypeVar("_Function", bound=Callable[..., Any])
_njit: Any = numba.njit
_inner = cast("Callable[[_Function], _Function]", _njit(nogil=True))


class Rows(NamedTuple):
    """The columns of ``Capture`` that a line is made of."""

    time_ns: NDArray[np.int64]
    can_id: NDArray[np.uint32]
    flags: NDArray[np.uint8]
    channel: NDArray[np.uint8]
    length: NDArray[np.uint8]
    start: NDArray[np.int64]
    data: NDArray[np.uint8]


def _kept(*signature: Any) -> Callable[[_Function], _Function]:
    """Compiled, and kept on disk where that can be; runs without the interpreter lock."""

    def compiled(function: _Function) -> _Function:
        try:
            return cast("_Function", _njit(signature, nogil=True, cache=True)(function))
        except (RuntimeError, OSError):  # no folder can be written to, or the disk is full
            return cast("_Function", _njit(signature, nogil=True)(function))

    return compiled


@_inner
def _decimal(out: NDArray[np.uint8], p: int, value: int, places: int) -> int:
    """A number with leading zeros at p; gives the place behind it."""
    for k in range(p + places - 1, p - 1, -1):
        out[k] = 48 + value % 10
        value //= 10
    return p + places


@_inner
def _stamp(out: NDArray[np.uint8], p: int, time_ns: int) -> int:
    """``(seconds.fraction) `` at p: ten digits, then six, or nine for parts of a microsecond."""
    out[p] = 40  # (
    p = _decimal(out, p + 1, time_ns // 1_000_000_000, 10)
    out[p] = 46  # .
    rest = time_ns % 1_000_000_000
    p = _decimal(out, p + 1, rest, 9) if rest % 1000 else _decimal(out, p + 1, rest // 1000, 6)
    out[p] = 41  # )
    out[p + 1] = 32
    return p + 2


@_inner
def _identifier(out: NDArray[np.uint8], p: int, can_id: Any, flags: int) -> int:
    """Three hex digits for 11 bits, eight for 29 and for error frames, and a #."""
    wide = 8 if flags & (EXTENDED | ERROR) else 3
    value = can_id | _ERROR_BIT if flags & ERROR else can_id
    for k in range(p + wide - 1, p - 1, -1):
        out[k] = _DIGITS[value & 15]
        value >>= 4
    out[p + wide] = 35  # #
    return p + wide + 1


@_inner
def _content(out: NDArray[np.uint8], p: int, rows: Rows, i: int) -> int:
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


def _read_only(kind: Any) -> Any:
    return types.Array(kind, 1, "C", readonly=True)


_named_tuple: Any = types.NamedTuple
_KINDS = (types.int64, types.uint32, types.uint8, types.uint8, types.uint8, types.int64, types.uint8)
_ROWS = _named_tuple([_read_only(kind) for kind in _KINDS], Rows)


@_kept(_ROWS, _read_only(types.uint8), _read_only(types.int64), types.uint8[::1])
def write_lines(
    rows: Rows, names: NDArray[np.uint8], name_ends: NDArray[np.int64], out: NDArray[np.uint8]
) -> int:
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
