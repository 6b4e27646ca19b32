"""The one place that knows how bits are numbered, in CAN frames and in coding blocks alike.

A bit's number is ``8 * byte + bit``, bit 0 being the least significant of its byte. Drawn with the
most significant bit of every byte on the left, as data sheets do::

              bit    7    6    5    4    3    2    1    0
    byte 0           7    6    5    4    3    2    1    0
    byte 1          15   14   13   12   11   10    9    8
    byte 2          23   22   21   20   19   18   17   16

A field is a start bit, a width and a byte order, as in a DBC file:

    little-endian   ``start`` is the least significant bit; the field goes on to higher numbers.
                    ``4|12@1`` takes, from its least significant bit, 4 5 6 7, 8 9 10 … 15.
    big-endian      ``start`` is the most significant bit; the field goes down to bit 0 of its byte,
                    then on from bit 7 of the next byte.
                    ``3|12@0`` takes, from its most significant bit, 3 2 1 0, 15 14 … 8.

Whatever the order, a field lies in neighbouring bytes and ends ``shift`` bits above bit 0 of the byte
that holds its least significant bit (:func:`span`); everything else follows from that.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Literal, NamedTuple

from netcheck.errors import UsageError


class Span(NamedTuple):
    """Where a field lies.

    first: its first byte in the payload, 0-based
    last:  its last byte in the payload, 0-based: the payload must be longer than that
    shift: bits below the field in the byte that holds its least significant bit, 0 to 7
    """

    first: int
    last: int
    shift: int


@lru_cache(maxsize=1 << 14)  # asked again for every capture and chunk
def span(start: int, width: int, big_endian: bool) -> Span:
    """The bytes that hold a field, and how far it sits above their lowest bit.

    Raises UsageError for a start below 0 or a width below 1.
    """
    if start < 0 or width < 1:
        raise UsageError(f"no field starts at bit {start} and is {width} bits wide")
    first = start // 8
    if not big_endian:
        return Span(first, (start + width - 1) // 8, start % 8)
    end = 8 * first + (7 - start % 8) + width - 1  # counted along the wire, most significant bit first
    return Span(first, end // 8, 7 - end % 8)


def last_byte_needed(start: int, width: int, big_endian: bool) -> int:
    """The last payload byte that a field touches, 0-based; ``+ 1`` is the shortest payload that holds it."""
    return span(start, width, big_endian).last


def bit_positions(start: int, width: int, big_endian: bool) -> tuple[int, ...]:
    """The bit numbers a field takes, from its least significant bit to its most significant one."""
    place = span(start, width, big_endian)
    if not big_endian:
        return tuple(range(start, start + width))
    offsets = range(place.shift, place.shift + width)
    return tuple(8 * (place.last - offset // 8) + offset % 8 for offset in offsets)


def field_start(byte: int, bit: int, width: int, big_endian: bool) -> int:
    """The start bit of a field given by its byte and its lowest bit there.

    byte: 0-based, the first one the field touches
    bit:  its least significant bit in that byte; a field that leaves its byte begins at bit 0 of whole bytes
    """
    if not big_endian:
        return 8 * byte + bit
    return 8 * byte + (bit + width - 1 if bit + width <= 8 else 7)


def get_bits(data: bytes, start: int, width: int, big_endian: bool) -> int:
    """The unsigned value of a field in ``data``, exact at any width.

    Raises UsageError where ``data`` is too short to hold the field.
    """
    place = _span_in(data, start, width, big_endian)
    number = int.from_bytes(data[place.first : place.last + 1], "big" if big_endian else "little")
    return number >> place.shift & (1 << width) - 1


def set_bits(data: bytes, start: int, width: int, big_endian: bool, value: int) -> bytes:
    """``data`` with the field set to an unsigned value; every other bit is left as it is.

    Raises UsageError where ``data`` is too short to hold the field, or the field too narrow for the value.
    """
    place = _span_in(data, start, width, big_endian)
    if not 0 <= value < 1 << width:
        raise UsageError(f"{value} does not fit into {width} bits without a sign")
    order: Literal["big", "little"] = "big" if big_endian else "little"
    held = data[place.first : place.last + 1]
    mask = (1 << width) - 1 << place.shift
    number = int.from_bytes(held, order) & ~mask | value << place.shift
    return data[: place.first] + number.to_bytes(len(held), order) + data[place.last + 1 :]


def _span_in(data: bytes, start: int, width: int, big_endian: bool) -> Span:
    place = span(start, width, big_endian)
    if place.last >= len(data):
        raise UsageError(f"{len(data)} bytes are too short for {width} bits that end in byte {place.last}")
    return place
