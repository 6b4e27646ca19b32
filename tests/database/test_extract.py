"""Matching frames to messages and reading bits, against slow twins and published numbers."""

import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.capture import ERROR, EXTENDED, FD, REMOTE
from netcheck.database import Database, Message, MuxPage, Signal, extract, group_frames, matching
from netcheck.database._extract import parameter_group
from netcheck.errors import UsageError
from tests.captures import Frame, frames_of, hand_made
from tests.naive import naive_raw, naive_selected


def signal(name: str, start: int, width: int, order: str, **more: object) -> Signal:
    """``order`` as in a DBC: 0 big-endian or 1 little-endian, then + or -."""
    plain = Signal(name, start, width, order[0] == "0", order[1] == "-", False, 1.0, 0.0, None, None)
    return dataclasses.replace(plain, **more)


def message(name: str, can_id: int, *signals: Signal, extended: bool = False, j1939: bool = False) -> Message:
    return Message(name, can_id, extended, False, j1939, 8, (), None, signals)


def read(one: Signal, *payloads: str) -> list[int | float]:
    capture = frames_of(1, map(bytes.fromhex, payloads))
    return extract(capture, message("M", 1, one), one, np.arange(len(capture))).raw.tolist()


@pytest.mark.parametrize(
    ("can_id", "group"),
    [
        (0x18F0010B, 61441),  # gist agmangas/4f8ef5febcb7564274f77c49ccbc0ffb
        (0x0C820E0F, 33280),  # the same: PF below 0xF0, the destination 0x0E does not count
        (0x0CF00400, 61444),  # the rest computed from the rule
        (0x18FEF100, 65265),
        (0x18F00503, 61445),
        (0x18EA00F9, 59904),
        (0x18FEEE00, 65262),
    ],
)
def test_parameter_group_numbers(can_id: int, group: int):
    assert parameter_group(can_id) == group


def test_published_j1939_values():
    # engine speed: bytes 4-5 of 61444, 0.125 rpm a bit, E0 15 is 700 rpm (Thomson MEC-310 manual, page 9)
    speed = signal("EngineSpeed", 24, 16, "1+", scale=0.125)
    engine = message("EEC1", 0x0CF004FE, speed, extended=True, j1939=True)
    capture = frames_of(0x0CF00400, [bytes.fromhex("FF7D7DE015FFF0FF")], extended=True)
    assert extract(capture, engine, speed, matching(capture, engine)).value.tolist() == [700.0]
    # wheel based speed: 1/256 km/h (J1939-71 as the FM6320 manual prints it, page 106); 00 50 is 80 km/h
    wheel = signal("WheelSpeed", 8, 16, "1+", scale=1 / 256)
    cruise = message("CCVS", 0x18FEF1FE, wheel, extended=True, j1939=True)
    capture = frames_of(0x18FEF121, [bytes.fromhex("FF0050FFFFFFFFFF")], extended=True)
    assert extract(capture, cruise, wheel, matching(capture, cruise)).value.tolist() == [80.0]
    # current gear: offset -125, 0x7C is reverse
    gear = signal("CurrentGear", 24, 8, "1+", offset=-125.0)
    transmission = message("ETC2", 0x18F005FE, gear, extended=True, j1939=True)
    payloads = [bytes.fromhex(f"FFFFFF{byte}FFFFFFFF") for byte in ("7C", "7D", "7E")]
    capture = frames_of(0x18F00503, payloads, extended=True)
    assert extract(capture, transmission, gear, matching(capture, transmission)).value.tolist() == [-1, 0, 1]


def test_published_dbc_values():
    # message 496 as in docs.rs/dbc-parse; values as cantools 45 gives them
    radius = signal("AverageRadius", 6, 6, "0+", scale=0.1)
    heat = signal("Temperature", 0, 12, "0-", scale=0.01, offset=250.0)
    capture = frames_of(496, map(bytes.fromhex, ("C001400000000000", "C006E00000000000", "0100000000000000")))
    example = message("ExampleMessage", 496, signal("Enable", 7, 1, "0+"), radius, heat)
    at = matching(capture, example)
    assert extract(capture, example, example.signals[0], at).raw.tolist() == [1, 1, 0]
    assert extract(capture, example, radius, at).value.tolist() == [32 * 0.1, 32 * 0.1, 0.0]
    assert extract(capture, example, heat, at).value.round(9).tolist() == [250.1, 250.55, 229.52]
    assert extract(capture, example, heat, at).raw.tolist() == [10, 55, -2048]
    assert read(signal("A", 39, 16, "0+"), "F0FF000012340000") == [4660]
    assert read(signal("A", 4, 12, "1-"), "F0FF000012340000") == [-1]
    assert read(signal("A", 7, 32, "0-"), "FFFFFFFE80000000") == [-2]
    assert read(signal("A", 39, 32, "0-"), "FFFFFFFE80000000") == [-2147483648]


def test_wide_signals_are_exact_in_raw():
    assert read(signal("A", 0, 64, "1+"), "FFFFFFFFFFFFFFFF") == [2**64 - 1]
    assert read(signal("A", 0, 64, "1-"), "FEFFFFFFFFFFFFFF") == [-2]
    assert read(signal("A", 7, 63, "0+"), "80000000000000FF") == [0x4000000000000000 + 0x7F]
    assert read(signal("A", 4, 60, "1+"), "F1FFFFFFFFFFFFFF") == [2**60 - 1]
    kinds = {
        order: extract_one(signal("A", 0, width, order)).raw.dtype
        for order, width in (("1+", 64), ("1-", 64))
    }
    assert kinds == {"1+": np.uint64, "1-": np.int64}
    assert extract_one(signal("A", 0, 63, "1+")).raw.dtype == np.int64


def extract_one(one: Signal):
    capture = frames_of(1, [bytes(8)])
    return extract(capture, message("M", 1, one), one, np.arange(1))


@st.composite
def layouts(draw: st.DrawFn) -> Signal:
    big = draw(st.booleans())
    is_float = draw(st.booleans())
    width = draw(st.sampled_from([16, 32, 64])) if is_float else draw(st.integers(1, 64))
    last = 511 - width + 1
    start = draw(st.integers(0, last))
    if big:  # counted along the wire, so that the field ends within 64 bytes
        start = 8 * (start // 8) + 7 - start % 8
    scale = draw(st.sampled_from([1.0, 0.01, -0.5, 1000.0]))
    offset = draw(st.sampled_from([0.0, -67.67, 40.0]))
    order = ("0" if big else "1") + draw(st.sampled_from("+-"))
    return signal("A", start, width, order, is_float=is_float, scale=scale, offset=offset)


@given(layouts(), st.lists(st.binary(max_size=64), max_size=5))
def test_extract_is_the_bit_loop(one: Signal, payloads: list[bytes]):
    capture = frames_of(1, payloads)
    got = extract(capture, message("M", 1, one), one, np.arange(len(capture)))
    expected = [naive_raw(payload, one) for payload in payloads]
    assert got.long_enough.tolist() == [value is not None for value in expected]
    assert got.selected.all()
    np.testing.assert_array_equal(got.raw.tolist(), [value or 0 for value in expected])
    physical = [np.nan if value is None else value * one.scale + one.offset for value in expected]
    np.testing.assert_array_equal(got.value, physical)


@given(st.lists(st.binary(max_size=4), max_size=20), st.integers(0, 24), st.integers(0, 24))
def test_pages_are_the_naive_ones(payloads: list[bytes], outer_at: int, inner_at: int):
    outer = signal("Outer", outer_at, 2, "1+")
    inner = signal("Inner", inner_at, 2, "1-", pages=(MuxPage("Outer", (1, 3)),))
    leaf = signal("Leaf", 8, 8, "1+", pages=(MuxPage("Outer", (1, 3)), MuxPage("Inner", (-1, 0))))
    whole = message("M", 1, outer, inner, leaf)
    capture = frames_of(1, payloads)
    got = extract(capture, whole, leaf, np.arange(len(capture)))
    selected = [naive_selected(payload, whole, leaf) for payload in payloads]
    assert got.selected.tolist() == selected
    assert got.readable.tolist() == [
        None not in (naive_raw(payload, outer), naive_raw(payload, inner)) for payload in payloads
    ]
    carried = [
        naive_raw(payload, leaf) if chosen else None
        for payload, chosen in zip(payloads, selected, strict=True)
    ]
    assert got.carries.tolist() == [value is not None for value in carried]
    assert got.raw.tolist() == [value or 0 for value in carried]


def test_frame_too_short_for_the_multiplexer_selects_nothing():
    # page 0 would be selected if missing bytes counted as zero
    leaf = signal("Leaf", 0, 8, "1+", pages=(MuxPage("Mux", (0,)),))
    whole = message("M", 1, leaf, signal("Mux", 8, 8, "1+"))
    capture = frames_of(1, [b"\x11", b"\x11\x00", b"\x11\x01", b""])
    got = extract(capture, whole, leaf, np.arange(4))
    assert got.selected.tolist() == [False, True, False, False]
    assert got.readable.tolist() == [False, True, True, False]
    assert got.long_enough.tolist() == [True, True, True, False]
    assert got.raw.tolist() == [0, 0x11, 0, 0]


def test_a_page_of_no_multiplexer_is_refused():
    leaf = signal("Leaf", 0, 8, "1+", pages=(MuxPage("Gone", (0,)),))
    with pytest.raises(UsageError, match=r"M\.Leaf: no multiplexer Gone"):
        extract(frames_of(1, [b"\0"]), message("M", 1, leaf), leaf, np.arange(1))


def test_matching():
    capture = hand_made(
        [
            Frame(0x123, b"a"),
            Frame(0x123, b"b", EXTENDED),
            Frame(0x123, b"c", FD, channel="can1"),
            Frame(0x123, b"d", REMOTE),
            Frame(0x123, b"e", ERROR),
            Frame(0x18FEF100, b"f", EXTENDED),
            Frame(0x0CFEF1AA, b"g", EXTENDED),
            Frame(0x18FEF200, b"h", EXTENDED),
            Frame(0x18EA00F9, b"i", EXTENDED),
            Frame(0x18EA33F9, b"j", EXTENDED),
            Frame(0x123, b"k"),
        ]
    )
    database = Database(
        (),
        (
            message("Short", 0x123),
            message("Long", 0x123, extended=True),
            message("Exact", 0x18FEF100, extended=True),
            message("Group", 0x18FEF1FE, extended=True, j1939=True),
            message("Addressed", 0x18EAFFFE, extended=True, j1939=True),
            message("Absent", 0x124),
            message("Twin", 0x123),
        ),
    )
    expected = {
        "Short": [0, 2, 10],
        "Long": [1],
        "Exact": [5],
        "Group": [5, 6],
        "Addressed": [8, 9],
        "Absent": [],
        "Twin": [0, 2, 10],
    }
    assert {m.name: matching(capture, m).tolist() for m in database.messages} == expected
    grouped = group_frames(capture, database)
    assert {name: frames.tolist() for name, frames in grouped.items()} == expected
    assert list(grouped) == list(expected)


@given(
    st.lists(
        st.tuples(st.integers(0, 2**29 - 1), st.sampled_from([0, EXTENDED, FD, ERROR, REMOTE, 5])),
        max_size=60,
    ),
    st.data(),
)
def test_grouping_is_matching(frames: list[tuple[int, int]], data: st.DataObject):
    frames = [(can_id if flags & EXTENDED else can_id & 0x7FF, flags) for can_id, flags in frames]
    capture = hand_made(Frame(can_id, b"", flags) for can_id, flags in frames)
    known = st.sampled_from(frames) if frames else st.nothing()
    wanted = data.draw(
        st.lists(st.one_of(known, st.just((0x100, 0)), st.just((0x100, EXTENDED))), max_size=20)
    )
    chosen = tuple(
        message(
            f"M{number}",
            can_id,
            extended=bool(flags & EXTENDED),
            j1939=bool(flags & EXTENDED) and number % 3 == 0,
        )
        for number, (can_id, flags) in enumerate(wanted)
    )
    grouped = group_frames(capture, Database((), chosen))
    for one in chosen:
        np.testing.assert_array_equal(grouped[one.name], matching(capture, one))
        assert grouped[one.name].dtype == matching(capture, one).dtype == np.int64


def test_colliding_ids_in_the_table():
    # ids that are neighbours, and equal in their low bits: every one must find its own frames
    ids = [0x100 + (number << 20) for number in range(200)] + list(range(0x1FFFFF00, 0x20000000))
    capture = hand_made(Frame(can_id, b"", EXTENDED) for can_id in ids)
    database = Database((), tuple(message(f"M{can_id}", can_id, extended=True) for can_id in ids[::2]))
    grouped = group_frames(capture, database)
    assert [frames.tolist() for frames in grouped.values()] == [[number] for number in range(0, len(ids), 2)]


def test_nothing_in_nothing():
    capture = hand_made([])
    one = message("M", 1, signal("A", 0, 8, "1+"))
    assert matching(capture, one).tolist() == []
    assert group_frames(capture, Database((), ())) == {}
    assert group_frames(capture, Database((), (one,)))["M"].tolist() == []
    assert len(extract(capture, one, one.signals[0], np.empty(0, np.int64)).raw) == 0
