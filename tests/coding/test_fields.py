"""Fields of coding blocks against hand-worked bytes, and as a codec against any bytes."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.coding import (
    field_bytes,
    field_mask,
    label_of,
    locate,
    number_of,
    read_field,
    write_field,
)
from netcheck.errors import InputError, UsageError
from netcheck.files import CodingField
from tests.coding.vehicles import vehicle


@st.composite
def placed_fields(draw: st.DrawFn) -> tuple[CodingField, bytes]:
    """A field in any place that a vehicle file may give it, and a block that holds it."""
    data = draw(st.binary(min_size=1, max_size=12))
    byte = draw(st.integers(0, len(data) - 1))
    order = draw(st.sampled_from(["big", "little"]))
    if draw(st.booleans()):
        width = 8 * draw(st.integers(1, len(data) - byte))
        return CodingField(byte=byte, width=width, order=order), data
    bit = draw(st.integers(0, 7))
    return CodingField(byte=byte, bit=bit, width=draw(st.integers(1, 8 - bit)), order=order), data


def test_a_single_bit_is_counted_from_the_least_significant() -> None:
    field = CodingField(byte=2, bit=5, width=1)
    assert read_field(field, bytes.fromhex("03001F00")) == 0
    assert write_field(field, bytes.fromhex("03001F00"), 1) == bytes.fromhex("03003F00")
    assert field_mask(field, 4) == bytes.fromhex("00002000")


def test_bits_inside_a_byte() -> None:
    field = CodingField(byte=0, bit=3, width=3)
    assert read_field(field, bytes([0b1010_1111])) == 0b101
    assert write_field(field, bytes([0b1010_1111]), 0b010) == bytes([0b1001_0111])


@pytest.mark.parametrize(("order", "number"), [("big", 0x0A0B0C), ("little", 0x0C0B0A)])
def test_whole_bytes_have_an_order(order: str, number: int) -> None:
    field = CodingField.model_validate({"byte": 1, "width": 24, "order": order})
    assert read_field(field, bytes.fromhex("FF0A0B0CFF")) == number
    assert write_field(field, bytes.fromhex("FF000000FF"), number) == bytes.fromhex("FF0A0B0CFF")
    assert field_bytes(field) == slice(1, 4)


@given(placed_fields(), st.data())
def test_a_written_number_reads_back_and_nothing_else_moves(
    placed: tuple[CodingField, bytes], data: st.DataObject
) -> None:
    field, block = placed
    number = data.draw(st.integers(0, (1 << field.width) - 1))
    written = write_field(field, block, number)
    assert read_field(field, written) == number
    outside = [~mask & 0xFF for mask in field_mask(field, len(block))]
    assert [old & keep for old, keep in zip(block, outside, strict=True)] == [
        new & keep for new, keep in zip(written, outside, strict=True)
    ]
    assert sum(mask.bit_count() for mask in field_mask(field, len(block))) == field.width
    assert write_field(field, written, read_field(field, block)) == block  # the way back


def test_a_block_that_is_too_short_is_a_usage_error() -> None:
    field = CodingField(byte=2, width=8)
    with pytest.raises(UsageError):
        read_field(field, b"\x00\x00")
    with pytest.raises(UsageError):
        write_field(field, b"\x00\x00", 1)
    with pytest.raises(UsageError):
        write_field(field, b"\x00\x00\x00", 256)


def test_labels_and_numbers() -> None:
    field = CodingField.model_validate({"byte": 0, "width": 2, "values": {"0": "absent", "1": "fitted"}})
    assert number_of(field, "fitted") == 1
    assert number_of(field, 3) == 3
    assert label_of(field, 1) == "fitted"
    assert label_of(field, 3) == 3


@pytest.mark.parametrize(
    ("value", "message"),
    [
        (
            "fited",
            "a.toml: code[2].value: 'fited' is not a value of column.stalk – one of fitted, absent",
        ),
        ("yes", "a.toml: code[2].value: 'yes' is not a value of column.stalk – one of absent, fitted"),
        (4, "a.toml: code[2].value: 4 does not fit into the 2 bit of column.stalk – use 0 to 3"),
        (-1, "a.toml: code[2].value: -1 does not fit into the 2 bit of column.stalk – use 0 to 3"),
    ],
)
def test_a_value_that_the_field_cannot_have(value: str | int, message: str) -> None:
    field = CodingField.model_validate({"byte": 0, "width": 2, "values": {"0": "absent", "1": "fitted"}})
    with pytest.raises(InputError) as caught:
        number_of(field, value, name="column.stalk", file="a.toml", where="code[2].value")
    assert str(caught.value) == message


def test_a_label_for_a_field_without_labels() -> None:
    with pytest.raises(InputError, match="use a number, 0 to 255"):
        number_of(CodingField(byte=0), "fitted", file="a.toml")


def test_locate() -> None:
    found = locate(vehicle(), 2018, "gateway", "serial")
    assert found is not None
    assert (found.did, found.block.length, found.field.byte, found.name) == (0x0610, 6, 1, "serial")


@pytest.mark.parametrize(
    ("year", "module", "field", "is_there"),
    [
        (2019, "cluster", "park_display", True),
        (2022, "cluster", "park_display", True),
        (2018, "cluster", "park_display", False),  # this model year does not have the module
        (2019, "cluster", "serial", False),
        (2019, "brakes", "park_display", False),
    ],
)
def test_locate_what_the_model_year_has(year: int, module: str, field: str, is_there: bool) -> None:
    assert (locate(vehicle(), year, module, field) is not None) is is_there
