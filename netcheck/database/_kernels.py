"""Loops over frames, arrays only. Slow twins of all of them are in ``tests/naive.py``.

Columns come in as a capture has them; a field comes in as one row of ``fields``:
first byte, last byte, shift (see :func:`netcheck.bits.span`), width, 1 if big-endian, 1 if signed.
Called through ``netcheck.kernels``. The signatures are explicit; read-only arrays are taken too.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit, types

from netcheck.capture import EXTENDED, NOBODYS
from netcheck.jit import kept

_U8 = types.Array(types.uint8, 1, "C", readonly=True)
_U32 = types.Array(types.uint32, 1, "C", readonly=True)
_I32 = types.Array(types.int32, 1, "C", readonly=True)
_I64 = types.Array(types.int64, 1, "C", readonly=True)
_FIELDS = types.Array(types.int64, 2, "C", readonly=True)
_SCALES = types.Array(types.float64, 2, "C", readonly=True)
_Column = Any  # an array of the type its signature says
_BLOCK = 512  # frames whose payloads stay in the nearest cache while all signals of a message are read


@njit(inline="always")
def _unsigned(data: _Column, begin: int, first: int, last: int, shift: int, big: int) -> Any:
    """Field bytes from the most significant one down; what lies above the field may be left in."""
    value = np.uint64(0)
    if big:
        for byte in range(first, last):
            value = (value << np.uint64(8)) | np.uint64(data[begin + byte])
        lowest = np.uint64(data[begin + last])
    else:
        for byte in range(last, first, -1):
            value = (value << np.uint64(8)) | np.uint64(data[begin + byte])
        lowest = np.uint64(data[begin + first])
    return (value << np.uint64(8 - shift)) | (lowest >> np.uint64(shift))


@kept(types.void(_U8, _I64, _U8, _I64, _FIELDS, types.uint64[::1], types.boolean[::1]))
def read_field(
    data: _Column,
    start: _Column,
    length: _Column,
    indices: _Column,
    fields: _Column,
    raw: _Column,
    long_enough: _Column,
) -> None:
    """One field of the frames at ``indices``, two's complement; 0 where a frame is too short."""
    first, last, shift, width, big, signed = fields[0]
    mask = np.uint64(0xFFFFFFFFFFFFFFFF) >> np.uint64(64 - width)
    sign = np.uint64(1) << np.uint64(width - 1)
    for row in range(len(indices)):
        frame = indices[row]
        if length[frame] <= last:
            raw[row] = np.uint64(0)
            long_enough[row] = False
            continue
        value = _unsigned(data, start[frame], first, last, shift, big) & mask
        if signed and value & sign:
            value |= ~mask
        raw[row] = value
        long_enough[row] = True


@kept(types.void(_U8, _I64, _I64, _FIELDS, _SCALES, types.uint64[:, ::1], types.float64[:, ::1]))
def read_fields(
    data: _Column,
    start: _Column,
    indices: _Column,
    fields: _Column,
    scales: _Column,
    raw: _Column,
    value: _Column,
) -> None:
    """All fields of the frames at ``indices``, which must be long enough for them: one row a field.

    scales: factor and offset of each field
    """
    for block in range(0, len(indices), _BLOCK):
        end = min(block + _BLOCK, len(indices))
        for signal in range(len(fields)):
            first, last, shift, width, big, signed = fields[signal]
            mask = np.uint64(0xFFFFFFFFFFFFFFFF) >> np.uint64(64 - width)
            sign = np.uint64(1) << np.uint64(width - 1)
            factor, summand = scales[signal]
            for row in range(block, end):
                begin = start[indices[row]]
                bits = _unsigned(data, begin, first, last, shift, big) & mask
                if signed and bits & sign:
                    bits |= ~mask
                    number = -np.float64(~bits + np.uint64(1))
                else:
                    number = np.float64(bits)
                raw[signal, row] = bits
                value[signal, row] = number * factor + summand


@kept(types.void(_U32, _U8, _I32, _U32, _I32, types.int32[::1], types.int64[::1]))
def number_frames(
    can_id: _Column,
    flags: _Column,
    standard: _Column,
    keys: _Column,
    groups: _Column,
    group_of: _Column,
    counts: _Column,
) -> None:
    """Each frame's group by its id, -1 if it has none; ``counts`` is raised by one a frame.

    standard: int32[2048], the group of each 11-bit id
    keys, groups: open-addressed table of 29-bit ids, of a length that is a power of two; group -1 is empty
    """
    mask = np.int64(len(keys) - 1)
    for frame in range(len(can_id)):
        group = np.int32(-1)
        identifier = can_id[frame]
        if flags[frame] & NOBODYS:
            pass
        elif flags[frame] & EXTENDED:
            slot = (np.int64(identifier) * 2654435761 >> 16) & mask
            while groups[slot] >= 0:
                if keys[slot] == identifier:
                    group = groups[slot]
                    break
                slot = (slot + 1) & mask
        elif identifier < 2048:
            group = standard[identifier]
        group_of[frame] = group
        if group >= 0:
            counts[group] += 1


@kept(types.void(_I32, types.int64[::1], types.int64[::1]))
def sort_frames(group_of: _Column, begin: _Column, order: _Column) -> None:
    """Frame numbers by group, in file order inside one; ``begin``: where each begins, used up."""
    for frame in range(len(group_of)):
        group = group_of[frame]
        if group >= 0:
            order[begin[group]] = frame
            begin[group] += 1
