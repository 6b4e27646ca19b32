"""Bytes beside a field that move only when it does: they may belong to it, whatever their bits' rates say."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck.find._behind import busy_bits
from netcheck.find._fit import raw_values
from netcheck.find._movements import MessageMovements

_LEAST_CHANGES: Final = 8  # of a byte, below which nothing is said of it
_LEAST_STILL: Final = 0.1  # share of the samples in which the field stands still
_MOST_ALONE: Final = 0.15  # share of the byte's changes while the field stands still
_NEAR: Final = 2  # samples around a change of the field that count as moving


def bytes_beside(message: MessageMovements, bits: tuple[int, ...]) -> tuple[int, ...]:
    """Numbers of the bytes next to a field's outer bits, in either byte order, that move only with it.

    bits: of the field, the lowest first. Counters and checksums are none, and where the field never stands
    still nothing is known.
    """
    moves = np.diff(raw_values(message, bits, is_signed=False)) != 0
    moving = np.convolve(moves, np.ones(2 * _NEAR + 1), "same") > 0
    if not len(moves) or np.mean(~moving) < _LEAST_STILL:
        return ()
    busy = {bit for bit, _ in busy_bits(message)}
    found = []
    for byte in sorted(set(_neighbours(message, bits))):
        own = tuple(bit for bit in range(8 * byte, 8 * byte + 8) if bit not in busy)
        changes = np.diff(raw_values(message, own, is_signed=False)) != 0
        if len(own) == 8 and _is_with(changes, moving):
            found.append(byte)
    return tuple(found)


def _neighbours(message: MessageMovements, bits: tuple[int, ...]) -> Iterator[int]:
    inside = {bit // 8 for bit in bits}
    for bit, is_edge in ((bits[0], bits[0] % 8 == 0), (bits[-1], bits[-1] % 8 == 7)):
        for byte in (bit // 8 - 1, bit // 8 + 1):
            if is_edge and 0 <= byte < message.length and byte not in inside:
                yield byte


def _is_with(changes: NDArray[np.bool_], moving: NDArray[np.bool_]) -> bool:
    count = np.count_nonzero(changes)
    return bool(count >= _LEAST_CHANGES and np.count_nonzero(changes & ~moving) <= _MOST_ALONE * count)
