"""Loops over frames, arrays only. Slow twins of all of them are in ``tests/naive.py``.

Columns come in as a capture has them; a field comes in as one row of ``fields``:
first byte, last byte, shift (see :func:`netcheck.bits.span`), width, 1 if big-endian, 1 if signed.
Called through ``netcheck._compile``. The signatures are explicit; read-only arrays are taken too.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from netcheck._compile.define import (
    I32,
    I64,
    ROW,
    U8,
    U32,
    Column,
    array,
    cached_kernel,
    inlined_helper,
    kernel_helper,
    read_only,
    swapped,
    tuple_of,
    word_at,
)
from netcheck.capture import EXTENDED, NON_DATA

_FIELDS = read_only(np.int64, 2)
_SCALES = read_only(np.float64, 2)
_WORDS = array(np.uint64, 2)
_FRAMES = tuple_of(tuple, U8, I64)
_ALL = np.uint64(0xFFFFFFFFFFFFFFFF)


@inlined_helper
def _byte(data: Column, at: Any, shift: int) -> Any:
    """A byte, shifted to its place; an unsigned place spares the test for one below 0."""
    return np.uint64(data[at]) << np.uint64(shift)


@inlined_helper
def _byte_by_byte(data: Column, begin: int, first: int, last: int, shift: int, big: int) -> Any:
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


@kernel_helper
def _load(data: Column, start: Column, indices: Column, words: Column) -> None:
    """The first eight payload bytes of each frame, both ways round; bytes beyond the data count as 0."""
    for row in range(len(indices)):
        begin = start[indices[row]]
        if begin + 8 <= len(data):
            word = word_at(data, begin)
            words[0, row] = word
            words[1, row] = swapped(word)
            continue
        little = big = np.uint64(0)
        for byte in range(len(data) - begin):
            little |= _byte(data, begin + byte, 8 * byte)
            big |= _byte(data, begin + byte, 56 - 8 * byte)
        words[0, row] = little
        words[1, row] = big


@kernel_helper
def _cut(words: Column, low: int, width: int, signed: int, bits: Column) -> None:
    """``width`` bits of each word from bit ``low`` on, sign-extended if asked for."""
    left = np.uint64(64 - low - width)
    right = np.uint64(64 - width)
    if signed:
        for row in range(len(bits)):
            bits[row] = np.uint64(np.int64(words[row] << left) >> np.int64(right))
    else:
        for row in range(len(bits)):
            bits[row] = (words[row] << left) >> right


@kernel_helper
def _read_long(data: Column, start: Column, indices: Column, field: Column, bits: Column) -> None:
    """A field that reaches beyond the eighth byte; 0 where the data end before it does."""
    first, last, shift, width, big, signed = field
    mask = _ALL >> np.uint64(64 - width)
    sign = np.uint64(1) << np.uint64(width - 1)
    for row in range(len(bits)):
        begin = start[indices[row]]
        if begin + last >= len(data):
            bits[row] = np.uint64(0)
            continue
        value = _byte_by_byte(data, begin, first, last, shift, big) & mask
        bits[row] = value | ~mask if signed and value & sign else value


@kernel_helper
def _read_block(
    data: Column, start: Column, indices: Column, words: Column, field: Column, bits: Column
) -> None:
    """One field of a block of frames, whose words are loaded."""
    first, last, shift, width, big, signed = field
    if last >= 8:
        _read_long(data, start, indices, field, bits)
    elif big:
        _cut(words[1], 8 * (7 - last) + shift, width, signed, bits)
    else:
        _cut(words[0], 8 * first + shift, width, signed, bits)


@cached_kernel(_FRAMES, U8, I64, _FIELDS, _WORDS, _WORDS, array(np.bool_, 2))
def read_where_held(
    frames: tuple[Column, Column],
    length: Column,
    indices: Column,
    fields: Column,
    words: Column,
    raw: Column,
    long_enough: Column,
) -> None:
    """All fields of the frames at ``indices``, two's complement, one row a field; 0 where too short.

    frames: ``data`` and ``start`` of a capture
    words:  (2, frames of a block), to work in
    """
    data, start = frames
    size = words.shape[1]
    block = 0
    while block < len(indices):
        some = indices[block : block + size]
        _load(data, start, some, words)
        shortest = np.int64(255)
        for row in range(len(some)):
            shortest = min(shortest, np.int64(length[some[row]]))
        for signal in range(len(fields)):
            bits = raw[signal, block : block + size]
            held = long_enough[signal, block : block + size]
            _read_block(data, start, some, words, fields[signal], bits)
            last = fields[signal, 1]
            if shortest > last:
                for row in range(len(some)):
                    held[row] = True
                continue
            for row in range(len(some)):
                held[row] = length[some[row]] > last
                if not held[row]:
                    bits[row] = np.uint64(0)
        block += size


@cached_kernel(_FRAMES, I64, _FIELDS, _SCALES, _WORDS, _WORDS, array(np.float64, 2))
def read_fields(
    frames: tuple[Column, Column],
    indices: Column,
    fields: Column,
    scales: Column,
    words: Column,
    raw: Column,
    value: Column,
) -> None:
    """All fields of the frames at ``indices``, which must be long enough for them: one row a field.

    frames: ``data`` and ``start`` of a capture
    scales: factor and offset of each field
    words:  (2, frames of a block), to work in
    """
    data, start = frames
    size = words.shape[1]
    block = 0
    while block < len(indices):
        some = indices[block : block + size]
        _load(data, start, some, words)
        for signal in range(len(fields)):
            bits = raw[signal, block : block + size]
            numbers = value[signal, block : block + size]
            _read_block(data, start, some, words, fields[signal], bits)
            factor, summand = scales[signal]
            if fields[signal, 3] < 64 or fields[signal, 5]:
                for row in range(len(some)):
                    numbers[row] = np.float64(np.int64(bits[row])) * factor + summand
            else:
                for row in range(len(some)):
                    numbers[row] = np.float64(bits[row]) * factor + summand
        block += size


@cached_kernel(U32, U8, I32, U32, I32, array(np.int32), ROW)
def number_frames(
    can_id: Column,
    flags: Column,
    standard: Column,
    keys: Column,
    groups: Column,
    group_of: Column,
    counts: Column,
) -> None:
    """Each frame's group by its id, -1 if it has none; ``counts`` is raised by one a frame.

    standard: int32[2048], the group of each 11-bit id
    keys, groups: open-addressed table of 29-bit ids, of a length that is a power of two; group -1 is empty
    """
    mask = np.int64(len(keys) - 1)
    for frame in range(len(can_id)):
        group = np.int32(-1)
        identifier = can_id[frame]
        if flags[frame] & NON_DATA:
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


@cached_kernel(I32, ROW, ROW)
def sort_frames(group_of: Column, begin: Column, order: Column) -> None:
    """Frame numbers by group, in file order inside one; ``begin``: where each begins, used up."""
    for frame in range(len(group_of)):
        group = group_of[frame]
        if group >= 0:
            order[begin[group]] = frame
            begin[group] += 1
