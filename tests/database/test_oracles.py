"""Layouts that no DBC has, against cantools and, for big-endian ones, canmatrix as a second opinion."""

import math
import struct
import warnings
from decimal import Decimal
from typing import Any

import cantools.database.can as oracle
import numpy as np
from cantools.database import DecodeError
from cantools.database.conversion import BaseConversion
from hypothesis import given
from hypothesis import strategies as st

from netcheck.bits import set_bits
from netcheck.database import Database, Message, MuxPage, Signal, decode
from tests.captures import frames_of

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # canmatrix warns about formats it cannot write
    import canmatrix


@st.composite
def fields(draw: st.DrawFn, size: int) -> tuple[int, int, bool, bool, bool]:
    """start, width, big-endian, signed, float of a field that fits into ``size`` bytes."""
    is_float = size >= 2 and draw(st.booleans())
    widths = [width for width in (16, 32, 64) if width <= 8 * size]
    width = draw(st.sampled_from(widths)) if is_float else draw(st.integers(1, min(64, 8 * size)))
    start = draw(st.integers(0, 8 * size - width))
    big = draw(st.booleans())
    return (8 * (start // 8) + 7 - start % 8 if big else start), width, big, draw(st.booleans()), is_float


def make_pair(
    name: str, field: tuple[int, int, bool, bool, bool], scale: float, offset: float
) -> tuple[Signal, oracle.Signal]:
    """The same signal for netcheck and for cantools."""
    start, width, big, signed, is_float = field
    ours = Signal(name, start, width, big, signed, is_float, float(scale), float(offset), None, None)
    conversion = BaseConversion.factory(scale=scale, offset=offset, is_float=is_float)
    order: Any = "big_endian" if big else "little_endian"
    return ours, oracle.Signal(name, start, width, order, signed, conversion=conversion)


def same(ours: float, theirs: float) -> bool:
    return ours == theirs or (math.isnan(ours) and math.isnan(theirs))


@given(st.data(), st.integers(1, 64))
def test_any_layout_is_cantools(data: st.DataObject, size: int):
    field = data.draw(fields(size))
    scale = data.draw(st.sampled_from([1, 2, 0.01, -0.125, 1e6]))
    offset = data.draw(st.sampled_from([0, -40, 0.5, -67.67]))
    ours, theirs = make_pair("A", field, scale, offset)
    message = Message("M", 1, False, size > 8, False, size, (), None, (ours,))
    reader = oracle.Message(1, "M", size, [theirs])
    payload = data.draw(st.binary(min_size=size, max_size=size))
    got = decode(frames_of(1, [payload]), Database((), (message,)))["M", "A"]
    raw: Any = reader.decode(payload, scaling=False, decode_choices=False)
    value: Any = reader.decode(payload, decode_choices=False)
    assert same(got.raw[0].item(), raw["A"])
    assert type(got.raw[0].item()) is (float if ours.is_float else int)
    if ours.is_float or (field[1] <= 53 and abs(value["A"]) < 1 << 53):
        assert same(got.value[0], float(value["A"]))
    else:  # float64 cannot hold every such number; the nearest is expected, one rounding more at most
        np.testing.assert_allclose(got.value[0], float(value["A"]), rtol=4e-16)


@given(st.data(), st.integers(1, 8))
def test_big_endian_is_canmatrix(data: st.DataObject, size: int):
    start, width, _, signed, _ = data.draw(fields(size).filter(lambda field: field[2] and not field[4]))
    ours, _ = make_pair("A", (start, width, True, signed, False), 1, 0)
    theirs = canmatrix.Signal("A", size=width, is_little_endian=False, is_signed=signed, factor=Decimal(1))
    theirs.set_startbit(
        start, bitNumbering=1
    )  # as in a DBC: the most significant bit, least significant first
    frame = canmatrix.Frame("M", size=size)
    frame.add_signal(theirs)
    payload = data.draw(st.binary(min_size=size, max_size=size))
    message = Message("M", 1, False, False, False, size, (), None, (ours,))
    got = decode(frames_of(1, [payload]), Database((), (message,)))["M", "A"]
    assert got.raw.tolist() == [frame.decode(payload)["A"].raw_value]


@given(st.data())
def test_extended_multiplexing_is_cantools(data: st.DataObject):
    """Two levels of pages: which signals a payload carries, and their values."""
    outer_ids, inner_ids = (
        [data.draw(st.sets(st.integers(0, 3), min_size=1)) for _ in range(2)] for _ in "ab"
    )
    plain = (1.0, 0.0)
    rows = [
        ("Outer", (0, 2, False, False, False), ()),
        ("Inner", (2, 2, False, False, False), (MuxPage("Outer", tuple(sorted(outer_ids[0]))),)),
        ("OnOuter", (8, 8, False, False, False), (MuxPage("Outer", tuple(sorted(outer_ids[1]))),)),
        *(
            (
                f"OnInner{number}",
                (16 + 8 * number, 8, False, True, False),
                (
                    MuxPage("Outer", tuple(sorted(outer_ids[0]))),
                    MuxPage("Inner", tuple(sorted(ids))),
                ),
            )
            for number, ids in enumerate(inner_ids)
        ),
    ]
    ours, theirs = [], []
    for name, field, pages in rows:
        mine, other = make_pair(name, field, *plain)
        ours.append(Signal(**{**vars(mine), "pages": pages}))
        other.is_multiplexer = name in ("Outer", "Inner")
        if pages:
            other.multiplexer_signal, other.multiplexer_ids = pages[-1].multiplexer, list(pages[-1].values)
        theirs.append(other)
    payload = data.draw(st.binary(min_size=4, max_size=4))
    message = Message("M", 1, False, False, False, 4, (), None, tuple(ours))
    got = decode(frames_of(1, [payload]), Database((), (message,)))
    found = {name: series.raw[0].item() for (_, name), series in got.items() if len(series)}
    try:
        expected: Any = oracle.Message(1, "M", 4, theirs, strict=False).decode(payload, scaling=False)
    except DecodeError:
        known = outer_ids[0] | outer_ids[1]
        on_inner = found["Outer"] in outer_ids[0]
        assert found["Outer"] not in known or (on_inner and found["Inner"] not in inner_ids[0] | inner_ids[1])
    else:
        assert found == expected


def test_half_precision():
    # IEEE 754 binary16, as the standard library packs it
    ours, _ = make_pair("A", (7, 16, True, False, True), 1, 0)
    message = Message("M", 1, False, False, False, 2, (), None, (ours,))
    payloads = [struct.pack(">e", number) for number in (1.5, -0.0009765625, 65504.0)]
    got = decode(frames_of(1, payloads), Database((), (message,)))["M", "A"]
    assert got.raw.tolist() == [1.5, -0.0009765625, 65504.0]
    assert got.value.dtype == got.raw.dtype == np.float64


def test_float_value_that_is_no_number_stays_silent():
    ours, _ = make_pair("A", (0, 64, False, False, True), 1e300, 0)
    message = Message("M", 1, False, False, False, 8, (), None, (ours,))
    payloads = [struct.pack("<d", number) for number in (math.inf, math.nan, 1e300)]
    got = decode(frames_of(1, payloads), Database((), (message,)))["M", "A"]
    assert [same(a, b) for a, b in zip(got.value, (math.inf, math.nan, math.inf), strict=True)] == [True] * 3


def test_a_signalling_nan_stays_silent():
    ours, _ = make_pair("A", (0, 32, False, False, True), 1, 0)
    message = Message("M", 1, False, False, False, 4, (), None, (ours,))
    got = decode(frames_of(1, [bytes.fromhex("0000817F")]), Database((), (message,)))["M", "A"]
    assert math.isnan(got.raw[0])
    assert math.isnan(got.value[0])


def test_set_bits_is_cantools_encoding():
    # a second way round: what cantools writes, set_bits writes
    ours, theirs = make_pair("A", (12, 13, True, False, False), 1, 0)
    reader = oracle.Message(1, "M", 4, [theirs])
    for value in (0, 1, 4095, 8191):
        expected = reader.encode({"A": value}, scaling=False)
        assert set_bits(bytes(4), ours.start, ours.width, True, value) == expected
