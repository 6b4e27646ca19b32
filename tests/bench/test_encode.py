"""MessagePayloads against cantools and against our own reader; checksums against published values."""

from __future__ import annotations

import crccheck
import pytest
from cantools.database import conversion
from cantools.database.can import Message as DbcMessage
from cantools.database.can import Signal as DbcSignal
from hypothesis import given
from hypothesis import strategies as st

from netcheck.bench import Checksum, encode, nearest_raw, physical, raw_range
from netcheck.bench._payloads import counter_size, page_turns
from netcheck.bits import bit_positions, last_byte_needed
from netcheck.database import Message, MuxPage, Signal


def signal(name: str = "S", start: int = 0, width: int = 8, **more) -> Signal:
    given = {
        "is_big_endian": False, "is_signed": False, "is_float": False, "scale": 1.0, "offset": 0.0,
        "minimum": None, "maximum": None,
    }  # fmt: skip
    return Signal(name, start, width, **{**given, **more})


def message(*signals: Signal, length: int = 8, **more) -> Message:
    return Message("M", 0x100, False, length > 8, False, length, (), None, signals, **more)


@st.composite
def layouts(draw: st.DrawFn) -> Message:
    """Signals that do not overlap, of every kind, in 1 to 8 bytes."""
    length = draw(st.integers(1, 8))
    taken: set[int] = set()
    signals = []
    for number in range(draw(st.integers(1, 6))):
        is_float = draw(st.booleans())
        width = draw(st.sampled_from([16, 32, 64]) if is_float else st.integers(1, 64))
        is_big_endian = draw(st.booleans())
        start = draw(st.integers(0, 8 * length - 1))
        if last_byte_needed(start, width, is_big_endian) >= length:
            continue
        bits = bit_positions(start, width, is_big_endian)
        if min(bits) < 0 or taken & set(bits):
            continue
        taken |= set(bits)
        signals.append(
            signal(
                f"S{number}", start, width, is_big_endian=is_big_endian,
                is_signed=not is_float and draw(st.booleans()), is_float=is_float,
            )
        )  # fmt: skip
    return message(*signals, length=length)


def oracle(layout: Message) -> DbcMessage:
    """The same message for cantools."""
    signals = [
        DbcSignal(
            s.name, s.start, s.width, "big_endian" if s.is_big_endian else "little_endian", s.is_signed,
            conversion=conversion.BaseConversion.factory(is_float=s.is_float),
        )
        for s in layout.signals
    ]  # fmt: skip
    return DbcMessage(layout.can_id, layout.name, layout.length, signals)


@given(layouts(), st.data())
def test_payloads_are_those_of_cantools(layout: Message, data: st.DataObject) -> None:
    raw: dict[str, float] = {}
    for s in layout.signals:
        strategy = st.floats(width=s.width, allow_nan=False) if s.is_float else st.integers(*raw_range(s))
        raw[s.name] = data.draw(strategy)
    assert encode(layout, raw) == oracle(layout).encode(raw, scaling=False, strict=False, padding=False)


def test_a_signal_that_the_message_is_too_short_for_is_left_out() -> None:
    assert encode(message(signal(), signal("T", 12, 8), length=2), {"S": 1, "T": 255}) == b"\x01\x00"


@pytest.mark.parametrize(
    ("value", "raw"), [(0.0, 0), (1.24, 2), (1.26, 3), (-0.5, -1), (1000.0, 127), (-1000.0, -128)]
)
def test_physical_values_go_to_the_nearest_raw_one_that_fits(value: float, raw: int) -> None:
    s = signal(is_signed=True, scale=0.5)
    assert nearest_raw(s, value) == raw
    assert nearest_raw(s, physical(s, raw)) == raw


def test_counter_sizes() -> None:
    """2 to the width, or the DBC's maximum + 1 where that is smaller."""
    sizes = [counter_size(signal(width=4, maximum=top)) for top in (None, 0.0, 14.0, 15.0, 255.0)]
    assert sizes == [16, 16, 15, 16, 16]


def test_pages_come_in_turn_also_where_one_selects_another() -> None:
    outer, inner = signal("Outer", 0, 4), signal("Inner", 4, 4, pages=(MuxPage("Outer", (1,)),))
    one = signal("One", 8, 8, pages=(MuxPage("Outer", (0,)),))
    two = signal("Two", 8, 8, pages=(MuxPage("Outer", (1,)), MuxPage("Inner", (3, 5))))
    assert page_turns(message(outer, inner, one, two)) == (
        {"Outer": 0},
        {"Outer": 1, "Inner": 3},
        {"Outer": 1, "Inner": 5},
    )
    assert page_turns(message(signal())) == ({},)


def test_of_very_many_pages_one_of_each_kind_comes() -> None:
    pages = (MuxPage("Page", tuple(range(1, 60_000))),)
    many = message(signal("Page", 0, 16), signal("On", 16, 8, pages=pages), signal("Zero", 16, 8))
    assert page_turns(many) == ({"Page": 1},)


AUTOSAR_CRC8 = [("00000000", 0x59), ("F20183", 0x37), ("0FAA0055", 0x79), ("00FF5511", 0xB8)]


@pytest.mark.parametrize(("data", "value"), AUTOSAR_CRC8)
def test_crc_8_of_the_standards_samples(data: str, value: int) -> None:
    """AUTOSAR_SWS_CRCLibrary: sample messages of the CRC-8 with polynomial 0x1D."""
    crc = Checksum("crc", polynomial=0x1D, start=0xFF, final=0xFF)
    assert crc.of(bytes.fromhex(data)) == value


@given(st.binary(max_size=64))
def test_other_crcs_are_those_of_an_independent_library(data: bytes) -> None:
    plain = Checksum("crc", 16, polynomial=0x1021, start=0xFFFF)
    mirrored = Checksum("crc", 8, polynomial=0x31, is_reflected=True)
    assert plain.of(data) == crccheck.crc.Crc16Ibm3740.calc(data)
    assert mirrored.of(data) == crccheck.crc.Crc8Maxim.calc(data)


def test_sums_and_bytes_that_no_frame_carries() -> None:
    """By hand: 0x81 + 0x82 = 0x103; 0x81 xor 0x82 = 0x03; with 0x10 before and 0x01 after, 0x114 and 0x12."""
    data = b"\x81\x82"
    assert [Checksum("sum").of(data), Checksum("xor").of(data)] == [0x03, 0x03]
    extra = {"before": b"\x10", "after": b"\x01"}
    assert [Checksum("sum", **extra).of(data), Checksum("xor", **extra).of(data)] == [0x14, 0x12]
    assert Checksum("sum", 16, **extra).of(data) == 0x114
