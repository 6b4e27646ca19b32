"""Eight characters at a time: unaligned words of text, and digits in them, for kernels.

A word holds the first character in its lowest byte (little-endian). Arithmetic on all eight bytes at once
is after "SIMD within a register" (Fisher and Dietz 1998). Every number here is unsigned.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from netcheck._compile.define import inlined_helper, swapped

U = np.uint64
_ALL = U(0xFFFFFFFFFFFFFFFF)
_ONES = U(0x0101010101010101)
_HIGH = U(0x8080808080808080)
_LOW7 = U(0x7F7F7F7F7F7F7F7F)
_ZEROS = U(0x3030303030303030)  # eight characters 0
_SIX_DIGITS = U(0x0000FFFFFFFFFFFF)


@inlined_helper
def low_bytes(count: int) -> Any:
    """A mask for the first ``count`` characters, from none to all eight."""
    if count >= 8:
        return _ALL
    return (U(1) << U(8 * max(count, 0))) - U(1)


@inlined_helper
def not_hex(word: Any) -> Any:
    """The highest bit of each byte that is no hex digit."""
    low = word & _LOW7
    digit = (low + U(0x5050505050505050)) & ~(low + U(0x4646464646464646))
    lower = low | U(0x2020202020202020)
    letter = (lower + U(0x1F1F1F1F1F1F1F1F)) & ~(lower + U(0x1919191919191919))
    return (~(digit | letter) | word) & _HIGH


@inlined_helper
def hex_bytes(word: Any) -> Any:
    """The four bytes that eight hex digits spell, the first in the lowest byte."""
    nibbles = (word & U(0x0F0F0F0F0F0F0F0F)) + U(9) * ((word >> U(6)) & _ONES)
    pairs = ((nibbles << U(4)) | (nibbles >> U(8))) & U(0x00FF00FF00FF00FF)
    pairs = (pairs | (pairs >> U(8))) & U(0x0000FFFF0000FFFF)
    return (pairs | (pairs >> U(16))) & U(0x00000000FFFFFFFF)


@inlined_helper
def hex_value(word: Any) -> Any:
    """The number that eight hex digits spell."""
    return swapped(hex_bytes(word)) >> U(32)


@inlined_helper
def six_are_digits(word: Any) -> Any:
    """Whether the first six characters are decimal digits."""
    digits = (word ^ _ZEROS) & _SIX_DIGITS
    return ((digits + U(0x0606060606060606)) | digits) & U(0x0000F0F0F0F0F0F0) == U(0)


@inlined_helper
def six_digits(word: Any) -> Any:
    """The number that the first six characters spell."""
    digits = ((word ^ _ZEROS) & _SIX_DIGITS) << U(16)
    digits = digits * U(10) + (digits >> U(8))
    pairs = U(0x000000FF000000FF)
    upper = (digits & pairs) * U(0x000F424000000064)  # 100 and 1,000,000
    lower = ((digits >> U(16)) & pairs) * U(0x0000271000000001)  # 1 and 10,000
    return np.int64((upper + lower) >> U(32))
