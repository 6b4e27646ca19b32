"""Coding as planned: one row a field, one write a block."""

from __future__ import annotations

from enum import StrEnum

from netcheck.records import dataclass


class CodingStatus(StrEnum):
    """Of a coding field that must end up at a value."""

    TO_DO = "to-do"
    ALREADY = "already"
    UNKNOWN = "unknown"  # no readout
    UNDEFINED = "undefined"  # no such module or field


@dataclass(frozen=True)
class CodingRow:
    """One coding field that an item wants at a value.

    from_:  present label or number, None where unknown or undefined
    byte:   first byte the field touches; None where undefined
    before, after: the bytes the field touches, hex, with this row's own change alone; None where unknown
    mask:   hex, the bits of those bytes that belong to the field
    unlock: the role that this change unlocks, None for a change the retrofit file asks for
    """

    module: str
    did: str | None  # "0x2210"
    field: str
    from_: str | int | None
    to: str | int
    byte: int | None
    before: str | None
    after: str | None
    mask: str | None
    status: CodingStatus
    unlock: str | None = None
    why: str = ""


@dataclass(frozen=True)
class Write:
    """One coding block to write, all items' changes merged; ``before`` reverts it. Hex."""

    module: str
    did: str
    before: str
    after: str
