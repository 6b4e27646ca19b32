"""Raw values to payloads: the way back of reading a signal."""

from __future__ import annotations

import struct
from collections.abc import Mapping
from typing import Final

from netcheck.bench._frame import FD_LENGTHS
from netcheck.bits import last_byte_needed, set_bits
from netcheck.database import Message, Signal

_FLOATS: Final = {16: "<e", 32: "<f", 64: "<d"}


def encode(message: Message, raw: Mapping[str, float]) -> bytes:
    """A payload of the message with these raw values; every other bit is 0.

    raw: by signal name; integers within ``raw_range``, or floats for float signals. Signals that the message
    is too short for are left out. A CAN FD payload is filled up to a length that CAN FD has.
    """
    length = message.length
    if message.is_fd:
        length = next((fits for fits in FD_LENGTHS if fits >= length), length)
    data = bytes(length)
    for signal in message.signals:
        if signal.name in raw and last_byte_needed(signal.start, signal.width, signal.is_big_endian) < length:
            bits = _bits(signal, raw[signal.name])
            data = set_bits(data, signal.start, signal.width, signal.is_big_endian, bits)
    return data


def raw_range(signal: Signal) -> tuple[int, int]:
    """The least and the greatest raw value that the signal's bits can hold; of integers."""
    if signal.is_signed:
        return -(1 << signal.width - 1), (1 << signal.width - 1) - 1
    return 0, (1 << signal.width) - 1


def physical(signal: Signal, raw: float) -> float:
    """The physical value of a raw one."""
    return signal.offset + signal.scale * raw


def nearest_raw(signal: Signal, value: float) -> float:
    """The raw value next to a physical one, inside what the bits can hold; a float for float signals."""
    if signal.is_float:
        return (value - signal.offset) / signal.scale
    low, high = raw_range(signal)
    return min(max(round((value - signal.offset) / signal.scale), low), high)


def _bits(signal: Signal, raw: float) -> int:
    if signal.is_float:
        return int.from_bytes(struct.pack(_FLOATS[signal.width], raw), "little")
    return int(raw) & (1 << signal.width) - 1
