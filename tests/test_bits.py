"""Bit numbering, against published layouts and against a walk bit by bit."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.bits import bit_positions, field_start, get_bits, last_byte_needed, set_bits, span
from netcheck.errors import UsageError
from tests.naive import naive_positions


@st.composite
def fields(draw: st.DrawFn) -> tuple[int, int, bool]:
    return draw(st.integers(0, 500)), draw(st.integers(1, 130)), draw(st.booleans())


def test_published_big_endian_walk():
    # docs.rs/dbc-parse and the canmatrix wiki on signal byte order: the next bit is start - 1,
    # from bit 0 of a byte to bit 7 of the next (+ 15); 0|12@0 occupies these, most significant first.
    assert bit_positions(0, 12, True)[::-1] == (0, 15, 14, 13, 12, 11, 10, 9, 8, 23, 22, 21)


@pytest.mark.parametrize(("start", "width", "lowest"), [(7, 32, 24), (39, 32, 56)])
def test_published_least_significant_bits(start: int, width: int, lowest: int):
    # canmatrix wiki on signal byte order: 7|32@0 has its least significant bit at 24, 39|32@0 at 56
    assert bit_positions(start, width, True)[0] == lowest


def test_published_values():
    # cantools 45 decodes these two so (39|16@0+ and 4|12@1-, whose -1 is all ones)
    data = bytes.fromhex("F0FF000012340000")
    assert get_bits(data, 39, 16, True) == 4660
    assert get_bits(data, 4, 12, False) == 0xFFF


@given(fields())
def test_positions_are_those_of_the_naive_walk(field: tuple[int, int, bool]):
    assert list(bit_positions(*field)) == naive_positions(*field)


@given(fields())
def test_span_covers_exactly_the_bytes_touched(field: tuple[int, int, bool]):
    touched = sorted({position // 8 for position in naive_positions(*field)})
    place = span(*field)
    assert list(range(place.first, place.last + 1)) == touched
    assert last_byte_needed(*field) == touched[-1]
    assert naive_positions(*field)[0] % 8 == place.shift


@given(fields(), st.data())
def test_get_and_set_agree_with_single_bits(field: tuple[int, int, bool], data: st.DataObject):
    _, width, _ = field
    size = last_byte_needed(*field) + 1
    block = data.draw(st.binary(min_size=size, max_size=size + 4))
    value = data.draw(st.integers(0, (1 << width) - 1))
    expected = bytearray(block)
    for index, position in enumerate(naive_positions(*field)):
        bit = 1 << position % 8
        expected[position // 8] = expected[position // 8] & ~bit | (bit if value >> index & 1 else 0)
    assert set_bits(block, *field, value) == bytes(expected)
    assert get_bits(bytes(expected), *field) == value


@pytest.mark.parametrize(
    ("byte", "bit", "width", "big_endian", "expected"),
    [
        (1, 4, 1, True, (12,)),
        (1, 4, 1, False, (12,)),
        (2, 3, 3, True, (19, 20, 21)),
        (2, 3, 3, False, (19, 20, 21)),
        (0, 0, 16, False, tuple(range(16))),
        (0, 0, 16, True, (*range(8, 16), *range(8))),
    ],
)
def test_field_start(byte: int, bit: int, width: int, big_endian: bool, expected: tuple[int, ...]):
    assert bit_positions(field_start(byte, bit, width, big_endian), width, big_endian) == expected


def test_too_short_too_wide_and_senseless():
    with pytest.raises(UsageError, match="1 bytes are too short for 12 bits"):
        get_bits(b"\x00", 0, 12, False)
    with pytest.raises(UsageError, match="too short"):
        set_bits(b"\x00", 0, 12, True, 1)
    with pytest.raises(UsageError, match="256 does not fit into 8 bits"):
        set_bits(b"\x00", 0, 8, False, 256)
    with pytest.raises(UsageError, match="-1 does not fit"):
        set_bits(b"\x00", 0, 8, False, -1)
    for start, width in ((-1, 8), (0, 0)):
        with pytest.raises(UsageError, match="no field"):
            span(start, width, False)
