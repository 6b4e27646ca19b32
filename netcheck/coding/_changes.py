"""What differs between two states of a coding block, named as far as the vehicle file goes."""

from __future__ import annotations

from netcheck.coding._fields import field_bytes, field_mask, label_of, read_field
from netcheck.errors import UsageError
from netcheck.files import CodingBlock
from netcheck.records import dataclass


@dataclass(frozen=True)
class Change:
    """A field, or a run of bits in one byte that no field names, that differs.

    byte, count: first byte and number of bytes
    bit, width:  least significant bit within ``byte`` (0 is the least significant of its byte), and bits
    before, after: the numbers those bits hold
    field:       None for bits that the vehicle file does not name
    from_, to:   the labels of before and after, or the numbers where they have none
    """

    byte: int
    count: int
    bit: int
    width: int
    before: int
    after: int
    field: str | None = None
    from_: str | int | None = None
    to: str | int | None = None


def changes_between(block: CodingBlock, before: bytes, after: bytes) -> tuple[Change, ...]:
    """Every field that changed, in the order of its place in the block, then bits that no field names.

    Both states have the block's length, in bytes; anything else is a UsageError.
    """
    if not len(before) == len(after) == block.length:
        raise UsageError(
            f"a coding block of {block.length} bytes cannot be compared with {len(before)} and {len(after)}"
        )
    named = 0
    found = []
    for name, field in sorted(block.field.items(), key=lambda item: (item[1].byte, item[1].bit, item[0])):
        old, new = read_field(field, before), read_field(field, after)
        if old != new:
            named |= int.from_bytes(field_mask(field, block.length), "big")
            span = field_bytes(field)
            labels = label_of(field, old), label_of(field, new)
            found.append(
                Change(span.start, span.stop - span.start, field.bit, field.width, old, new, name, *labels)
            )
    mask = named.to_bytes(block.length, "big")
    for byte, (old, new, known) in enumerate(zip(before, after, mask, strict=True)):
        found += _unnamed(byte, old, new, (old ^ new) & ~known)
    return tuple(
        sorted(found, key=lambda change: (change.byte, change.bit, change.width, change.field or ""))
    )


def _unnamed(byte: int, before: int, after: int, differing: int) -> list[Change]:
    """Runs of differing bits of one byte, least significant first."""
    runs = []
    bit = 0
    while differing >> bit:
        if not differing >> bit & 1:
            bit += 1
            continue
        width = 1
        while differing >> (bit + width) & 1:
            width += 1
        ones = (1 << width) - 1
        runs.append(Change(byte, 1, bit, width, before >> bit & ones, after >> bit & ones))
        bit += width
    return runs
