"""What was wanted against what a later readout holds."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import field
from enum import StrEnum

from netcheck.coding._changes import Change, changes_between
from netcheck.coding._fields import field_mask, label_of, locate, module_in, number_of, read_field
from netcheck.coding._model import CodingRow, Write
from netcheck.coding._modules import ModuleChecks
from netcheck.coding._plan import Readouts
from netcheck.coding._written import WriteCheck
from netcheck.files import CodingBlock, Vehicle, did_text
from netcheck.records import dataclass


class Held(StrEnum):
    """Of a wanted value in a later readout."""

    HOLDS = "holds"
    DIFFERS = "differs"
    UNREAD = "unread"  # the readout does not have the block
    UNDEFINED = "undefined"  # the vehicle file has no such field


@dataclass(frozen=True)
class FieldCheck:
    """A wanted value and what the readout holds: label, or number where it has none; None if not read."""

    module: str
    did: str | None
    field: str
    wanted: str | int
    found: str | int | None
    status: Held


@dataclass(frozen=True)
class BlockCheck:
    """The rest of a block that was read: every bit that belongs to no wanted field.

    expected: the block as it should be, hex; None where no earlier readout says what it was
    found:    the block as it was read, hex
    foreign:  what differs besides the wanted fields, from expected to found
    """

    module: str
    did: str
    expected: str | None
    found: str
    foreign: tuple[Change, ...]


@dataclass(frozen=True)
class Readback:
    """A later readout compared. fields: in the order of the rows; blocks: by module, data identifier.

    modules: what modules reported of themselves; writes: those that a capture shows
    """

    fields: tuple[FieldCheck, ...]
    blocks: tuple[BlockCheck, ...]
    modules: ModuleChecks = field(default_factory=ModuleChecks)
    writes: tuple[WriteCheck, ...] = ()

    @property
    def is_wrong(self) -> bool:
        """A field is not at its wanted value, other bits changed, or a module reports what it should not."""
        return (
            self.modules.is_wrong
            or any(check.status is Held.DIFFERS for check in self.fields)
            or any(block.foreign for block in self.blocks)
        )

    @property
    def is_unsure(self) -> bool:
        """A field or faults were not read, or nothing says what a block's other bits were."""
        return (
            self.modules.is_unsure
            or any(check.status in {Held.UNREAD, Held.UNDEFINED} for check in self.fields)
            or any(block.expected is None for block in self.blocks)
        )


def compare_readback(
    vehicle: Vehicle,
    year: int,
    rows: Sequence[CodingRow],
    writes: Sequence[Write],
    before: Readouts,
    after: Readouts,
) -> Readback:
    """Which wanted values a later readout holds, and whether anything else in its blocks changed.

    rows and writes are the plan's; before the readouts that it was made from, after the later ones. Blocks
    are whole. The expected block is the write's, else the one read before.
    """
    places = [locate(vehicle, year, row.module, row.field) for row in rows]
    masks: dict[tuple[str, int], int] = {}
    fields: dict[tuple[str, str, str | int], FieldCheck] = {}
    for row, place in zip(rows, places, strict=True):
        key = row.module, row.field, row.to
        if place is None:
            fields[key] = FieldCheck(row.module, row.did, row.field, row.to, None, Held.UNDEFINED)
            continue
        block = row.module, place.did
        masks[block] = masks.get(block, 0) | int.from_bytes(
            field_mask(place.field, place.block.length), "big"
        )
        found, status = None, Held.UNREAD
        if block in after:
            number = read_field(place.field, after[block])
            found = label_of(place.field, number)
            status = Held.HOLDS if number == number_of(place.field, row.to, name=row.field) else Held.DIFFERS
        fields[key] = FieldCheck(row.module, did_text(place.did), row.field, row.to, found, status)
    expected = dict(before) | {(w.module, int(w.did, 16)): bytes.fromhex(w.after) for w in writes}
    checks = (
        _block_check(block, definition, expected.get(block), after[block], masks.get(block, 0))
        for block, definition in _defined(vehicle, year, sorted(after))
    )
    return Readback(tuple(fields.values()), tuple(checks))


def _defined(
    vehicle: Vehicle, year: int, keys: Iterable[tuple[str, int]]
) -> Iterable[tuple[tuple[str, int], CodingBlock]]:
    for module, did in keys:
        found = module_in(vehicle, year, module)
        if found is not None and did in found.coding:
            yield (module, did), found.coding[did]


def _block_check(
    key: tuple[str, int], block: CodingBlock, expected: bytes | None, found: bytes, wanted: int
) -> BlockCheck:
    foreign: tuple[Change, ...] = ()
    if expected is not None:
        # The wanted fields are checked by value; put them at what was found, so that only the rest differs.
        old, new = int.from_bytes(expected, "big"), int.from_bytes(found, "big")
        rest = (old & ~wanted | new & wanted).to_bytes(block.length, "big")
        foreign = changes_between(block, rest, found)
    text = None if expected is None else expected.hex().upper()
    return BlockCheck(key[0], did_text(key[1]), text, found.hex().upper(), foreign)
