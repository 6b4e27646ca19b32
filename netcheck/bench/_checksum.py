"""Checksums over a payload, worked out only where somebody who knows has said which."""

from __future__ import annotations

from collections.abc import Callable
from functools import reduce
from operator import xor
from typing import Literal

from netcheck.records import dataclass

ChecksumKind = Literal["xor", "sum", "crc"]


@dataclass(frozen=True)
class Checksum:
    """A checksum of the kinds in common use; the numbers are those by which a CRC is usually named.

    width:         bits, 8 or 16; the sum is taken modulo 2 to it
    polynomial:    of a CRC, without its highest term
    start, final:  of a CRC, what it begins with and what is xored to it at the end
    is_reflected:  of a CRC, bits go in and out least significant first
    before, after: bytes worked in before and after the payload that no frame carries
    """

    kind: ChecksumKind
    width: int = 8
    polynomial: int = 0
    start: int = 0
    final: int = 0
    is_reflected: bool = False
    before: bytes = b""
    after: bytes = b""

    def of(self, data: bytes) -> int:
        """The checksum over these bytes: those of the frame without its own."""
        return _KINDS[self.kind](self, self.before + data + self.after)


def _crc(checksum: Checksum, data: bytes) -> int:
    """Bit by bit, as every description of a CRC has it."""
    width, crc = checksum.width, checksum.start
    top, mask = 1 << width - 1, (1 << width) - 1
    for byte in data:
        crc ^= (_mirror(byte, 8) if checksum.is_reflected else byte) << width - 8
        for _ in range(8):
            crc = ((crc << 1) ^ checksum.polynomial if crc & top else crc << 1) & mask
    return (_mirror(crc, width) if checksum.is_reflected else crc) ^ checksum.final


def _mirror(value: int, width: int) -> int:
    return int(f"{value:0{width}b}"[::-1], 2)


def _xor(checksum: Checksum, data: bytes) -> int:
    step = checksum.width // 8
    return reduce(xor, (int.from_bytes(data[at : at + step], "big") for at in range(0, len(data), step)), 0)


def _sum(checksum: Checksum, data: bytes) -> int:
    return sum(data) & (1 << checksum.width) - 1


_KINDS: dict[ChecksumKind, Callable[[Checksum, bytes], int]] = {"xor": _xor, "sum": _sum, "crc": _crc}
