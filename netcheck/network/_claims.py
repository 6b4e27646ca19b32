"""J1939 address claims: which device says that a source address is its own.

Layout of the NAME: SAE J1939-81; checked in the tests against a J1939 library. Names of industry groups are
those in common use, written from memory. What a function or a manufacturer code stands for is in registers
that are not at hand: the numbers are told.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

CLAIMED: Final = 0xEE00  # the parameter group
_INDUSTRIES: Final[Mapping[int, str]] = MappingProxyType(
    {
        0: "any industry",
        1: "road vehicles",
        2: "farming and forestry",
        3: "construction",
        4: "ships",
        5: "industrial plants",
    }
)
_LENGTH: Final = 8


@dataclass(frozen=True, order=True)
class J1939Name:
    """64 bits that tell a device from all others; of two that want one address the smaller number wins."""

    value: int

    @property
    def identity(self) -> int:
        """The maker's number for the very device, 21 bits."""
        return self.value & 0x1F_FFFF

    @property
    def manufacturer(self) -> int:
        """The maker's code, 11 bits."""
        return self.value >> 21 & 0x7FF

    @property
    def ecu_instance(self) -> int:
        """Which of several modules that share a function, 3 bits."""
        return self.value >> 32 & 7

    @property
    def function_instance(self) -> int:
        """Which of several functions of a kind, 5 bits."""
        return self.value >> 35 & 0x1F

    @property
    def function(self) -> int:
        """What the device does, 8 bits; from 128 on by industry and vehicle system."""
        return self.value >> 40 & 0xFF

    @property
    def vehicle_system(self) -> int:
        """7 bits; bit 48 between this and the function is reserved."""
        return self.value >> 49 & 0x7F

    @property
    def vehicle_system_instance(self) -> int:
        """Which of several vehicle systems, such as a second trailer, 4 bits."""
        return self.value >> 56 & 0xF

    @property
    def industry(self) -> int:
        """The industry group, 3 bits."""
        return self.value >> 60 & 7

    @property
    def industry_name(self) -> str:
        """In words, "" for a group that is not known."""
        return _INDUSTRIES.get(self.industry, "")

    @property
    def takes_another(self) -> bool:
        """Whether it takes another address by itself when it loses this one."""
        return bool(self.value >> 63)

    def __str__(self) -> str:
        return f"0x{self.value:016X}"


def names_in(payloads: Iterable[bytes]) -> tuple[J1939Name, ...]:
    """The different NAMEs of address claims, the smallest first; payloads of another length are none."""
    values = {int.from_bytes(payload, "little") for payload in payloads if len(payload) == _LENGTH}
    return tuple(J1939Name(value) for value in sorted(values))
