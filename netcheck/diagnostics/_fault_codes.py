"""Fault codes in the form of SAE J2012, from the bytes of a report."""

from __future__ import annotations

from typing import Final

_SYSTEMS: Final = "PCBU"


def fault_code(data: bytes) -> str:
    """``P0123`` from two bytes, ``U012187`` from three: the third is the failure type.

    The first two bits are the system, the next two the first digit.
    """
    first = data[0]
    return f"{_SYSTEMS[first >> 6]}{first >> 4 & 3}{first & 15:X}{data[1:].hex().upper()}"
