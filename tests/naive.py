"""Slow references: the plainest way to do what the kernels do fast."""

from __future__ import annotations


def naive_positions(start: int, width: int, big_endian: bool) -> list[int]:
    """Bit numbers of a DBC field from its least significant bit, walked one by one."""
    positions = []
    position = start
    for _ in range(width):
        positions.append(position)
        if not big_endian:
            position += 1
        elif position % 8:
            position -= 1
        else:
            position += 15
    return positions[::-1] if big_endian else positions
