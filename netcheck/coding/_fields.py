"""Fields of coding blocks: where they stand, what they hold, how they are changed."""

from __future__ import annotations

from os import PathLike

from netcheck.bits import field_start, get_bits, set_bits, span
from netcheck.errors import InputError
from netcheck.files import CodingBlock, CodingField, Module, Vehicle, present_modules, value_problem
from netcheck.records import dataclass


@dataclass(frozen=True)
class Located:
    """A field found in a vehicle's coding."""

    module: str
    did: int
    block: CodingBlock
    name: str
    field: CodingField


def module_in(vehicle: Vehicle, year: int, module: str) -> Module | None:
    """The module, or None when the vehicle has no such module or not in this model year."""
    return present_modules(vehicle, year).get(module)


def locate(vehicle: Vehicle, year: int, module: str, field: str) -> Located | None:
    """The block and layout of a module's coding field; None when this model year has no such thing.

    A field's name stands in one block of its module only: the vehicle file is refused otherwise.
    """
    found = module_in(vehicle, year, module)
    for did, block in found.coding.items() if found is not None else ():
        if field in block.field:
            return Located(module, did, block, field, block.field[field])
    return None


def field_bytes(field: CodingField) -> slice:
    """The bytes of its block that a field touches."""
    place = span(*_layout(field))
    return slice(place.first, place.last + 1)


def _layout(field: CodingField) -> tuple[int, int, bool]:
    """Start bit, width and byte order, as the bit codec takes them."""
    big = field.order == "big"
    return field_start(field.byte, field.bit, field.width, big), field.width, big


def read_field(field: CodingField, data: bytes) -> int:
    """The number a field holds in a block's bytes. Raises UsageError when the block is too short."""
    return get_bits(data, *_layout(field))


def write_field(field: CodingField, data: bytes, number: int) -> bytes:
    """The block's bytes with the field at ``number``; every other bit stays as it is.

    Raises UsageError when the block is too short or the number does not fit the field.
    """
    return set_bits(data, *_layout(field), number)


def field_mask(field: CodingField, length: int) -> bytes:
    """The bits of a block of ``length`` bytes that belong to the field, as set bits."""
    return write_field(field, bytes(length), (1 << field.width) - 1)


def label_of(field: CodingField, number: int) -> str | int:
    """The label of a number, or the number itself where it has none."""
    return field.values.get(number, number)


def number_of(
    field: CodingField,
    value: str | int,
    *,
    name: str = "",
    file: str | PathLike[str] = "",
    where: str = "",
) -> int:
    """The number that stands for a label, or the number itself.

    name is the field's, file and where the place that asks for the value: all three only for the message.
    Raises InputError for a label that the field does not have and for a number that it cannot hold.
    """
    problem = value_problem(field, value, (), name or "the coding field")
    if problem is not None:
        raise InputError(file, problem.what, where=where, remedy=problem.remedy)
    if isinstance(value, int):
        return value
    return next(number for number, label in field.values.items() if label == value)
