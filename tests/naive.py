"""Slow references: the plainest way to do what the kernels do fast."""

from __future__ import annotations

import struct
from typing import Any


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


def naive_raw(payload: bytes, signal: Any) -> int | float | None:
    """A signal's raw value read bit by bit; None where the payload is too short."""
    positions = naive_positions(signal.start, signal.width, signal.is_big_endian)
    if max(positions) // 8 >= len(payload):
        return None
    value = sum(
        (payload[position // 8] >> position % 8 & 1) << index for index, position in enumerate(positions)
    )
    if signal.is_float:
        return float(
            struct.unpack(
                {16: "<e", 32: "<f", 64: "<d"}[signal.width], value.to_bytes(signal.width // 8, "little")
            )[0]
        )
    if signal.is_signed and value >> (signal.width - 1):
        value -= 1 << signal.width
    return value


def naive_selected(payload: bytes, message: Any, signal: Any) -> bool:
    """All multiplexer pages of a signal are selected."""
    return all(naive_raw(payload, message.signal(page.multiplexer)) in page.values for page in signal.pages)
