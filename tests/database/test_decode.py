"""Series: what they hold, which frames they leave out, and that nothing is lost without a count."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.capture import ERROR, FD, REMOTE
from netcheck.database import Database, Message, MuxPage, Signal, decode
from netcheck.errors import UsageError
from tests.captures import Frame, frames_of, hand_made
from tests.naive import naive_raw, naive_selected

LEVER = Signal("Lever", 0, 4, False, False, False, 1.0, 0.0, None, None, "", {0: "P", 1: "R", 15: "no value"})
SPEED = Signal("Speed", 15, 16, True, False, False, 0.01, -67.67, 0.0, 250.0, "km/h")
FAR = Signal("Far", 24, 32, False, True, False, 1.0, 0.0, None, None)
STATUS = Message("Status", 0x100, False, False, False, 8, (), None, (LEVER, SPEED, FAR))
OTHER = Message("Other", 0x200, False, False, False, 8, (), None, (LEVER,))
DATABASE = Database(("hand.dbc",), (STATUS, OTHER))


def test_columns_of_a_series():
    capture = hand_made(
        [
            Frame(0x100, bytes.fromhex("F1 0001 00000000 00"), time_ns=5),
            Frame(0x200, b"\x0f", FD, time_ns=6, channel="can1"),
            Frame(0x100, bytes.fromhex("00 FFFF FFFFFFFF 00"), time_ns=7, channel="can1"),
            Frame(0x100, b"\x00" * 8, REMOTE, time_ns=8),
            Frame(0x100, b"\x00" * 8, ERROR, time_ns=9),
            Frame(0x100, bytes.fromhex("02 0002"), time_ns=10),
            Frame(0x100, b"", time_ns=11),
        ]
    )
    series = decode(capture, DATABASE)
    assert list(series) == [("Status", "Lever"), ("Status", "Speed"), ("Status", "Far"), ("Other", "Lever")]
    lever, speed, far = (series["Status", name] for name in ("Lever", "Speed", "Far"))
    assert (lever.message, lever.signal, lever.unit) == ("Status", "Lever", "")
    assert lever.time_ns.tolist() == [5, 7, 10]
    assert lever.raw.tolist() == [1, 0, 2]
    assert lever.value.tolist() == [1.0, 0.0, 2.0]
    assert [lever.channels[number] for number in lever.channel] == ["can0", "can1", "can0"]
    assert lever.frame.tolist() == [0, 2, 5]
    assert [lever.label(index) for index in range(3)] == ["R", "P", ""]
    assert (lever.frames, lever.short, len(lever)) == (4, 1, 3)
    assert speed.raw.tolist() == [1, 0xFFFF, 2]
    assert speed.value.tolist() == [0.01 - 67.67, 655.35 - 67.67, 0.02 - 67.67]
    assert (speed.unit, speed.frames, speed.short) == ("km/h", 4, 1)
    assert (far.raw.tolist(), far.frames, far.short) == ([0, -1], 4, 2)
    dtypes = {name: getattr(far, name).dtype.name for name in ("time_ns", "raw", "value", "channel", "frame")}
    assert dtypes == {
        "time_ns": "int64",
        "raw": "int64",
        "value": "float64",
        "channel": "uint8",
        "frame": "int64",
    }
    assert series["Other", "Lever"].label(0) == "no value"


def test_a_signal_that_never_came_is_there_and_empty():
    series = decode(frames_of(0x100, [b"\x01"]), DATABASE)
    assert (len(series["Other", "Lever"]), series["Other", "Lever"].frames) == (0, 0)
    assert (len(series["Status", "Far"]), series["Status", "Far"].short) == (0, 1)
    assert series["Status", "Far"].raw.dtype == np.int64


def test_arrays_cannot_be_changed():
    series = decode(frames_of(0x100, [b"\x01"]), DATABASE)["Status", "Lever"]
    for name in ("time_ns", "raw", "value", "channel", "frame"):
        with pytest.raises(ValueError, match="read-only"):
            getattr(series, name)[0] = 1


def test_channel_filter():
    capture = hand_made([Frame(0x100, bytes([number]), channel=f"can{number % 2}") for number in range(5)])
    assert decode(capture, DATABASE, channel="can1")["Status", "Lever"].raw.tolist() == [1, 3]
    assert decode(capture, DATABASE, channel="can1")["Status", "Lever"].frames == 2
    with pytest.raises(UsageError, match=r"hand\.log has no channel can2 – it has can0, can1"):
        decode(capture, DATABASE, channel="can2")


@pytest.mark.parametrize(
    ("pattern", "expected"),
    [
        ("*", [("Status", "Lever"), ("Status", "Speed"), ("Status", "Far"), ("Other", "Lever")]),
        ("Lever", [("Status", "Lever"), ("Other", "Lever")]),
        ("Other.*", [("Other", "Lever")]),
        ("*.S*", [("Status", "Speed")]),
        ("?a[rt]", [("Status", "Far")]),
    ],
)
def test_pattern(pattern: str, expected: list[tuple[str, str]]):
    assert list(decode(frames_of(0x100, [bytes(8)]), DATABASE, pattern)) == expected


def test_pattern_that_fits_nothing_names_what_is_near():
    with pytest.raises(
        UsageError, match=r"no signal of hand\.dbc matches 'Status\.Sped' – did you mean Speed\?"
    ):
        decode(frames_of(0x100, []), DATABASE, "Status.Sped")
    with pytest.raises(UsageError, match="use \\* for all"):
        decode(frames_of(0x100, []), DATABASE, "Brightness")


def test_short_frames_of_paged_signals():
    # short counts frames of the signal's page, and those that end before the multiplexer tells the page
    mux = Signal("Mux", 8, 8, False, False, False, 1.0, 0.0, None, None)
    leaf = Signal("Leaf", 16, 8, False, False, False, 1.0, 0.0, None, None, pages=(MuxPage("Mux", (1,)),))
    database = Database((), (Message("M", 1, False, False, False, 8, (), None, (leaf, mux)),))
    payloads = ["00", "0000", "0001", "000144", "000055"]
    series = decode(frames_of(1, map(bytes.fromhex, payloads)), database)
    assert (series["M", "Leaf"].raw.tolist(), series["M", "Leaf"].short) == ([0x44], 2)
    assert (series["M", "Mux"].raw.tolist(), series["M", "Mux"].short) == ([0, 1, 1, 0], 1)
    assert list(series) == [("M", "Leaf"), ("M", "Mux")]


@given(st.lists(st.binary(max_size=9), max_size=12))
def test_every_frame_is_a_sample_short_or_of_another_page(payloads: list[bytes]):
    mux = Signal("Mux", 4, 2, False, False, False, 1.0, 0.0, None, None)
    pages = (MuxPage("Mux", (0, 2)),)
    leaves = [
        Signal("Near", 7, 4, True, True, False, 0.5, 1.0, None, None, pages=pages),
        Signal("Wide", 3, 61, False, False, False, 1.0, 0.0, None, None, pages=pages),
        Signal("Real", 16, 32, False, False, True, 2.0, 1.0, None, None),
    ]
    message = Message("M", 1, False, False, False, 8, (), None, (mux, *leaves))
    series = decode(frames_of(1, payloads), Database((), (message,)))
    for signal in message.signals:
        got = series["M", signal.name]
        expected = [
            (number, naive_raw(payload, signal))
            for number, payload in enumerate(payloads)
            if naive_raw(payload, signal) is not None and naive_selected(payload, message, signal)
        ]
        assert got.frame.tolist() == [number for number, _ in expected]
        np.testing.assert_array_equal(got.raw, [raw for _, raw in expected])
        other_page = sum(
            naive_raw(payload, mux) is not None and not naive_selected(payload, message, signal)
            for payload in payloads
        )
        assert len(got) + got.short + other_page == got.frames == len(payloads)


@pytest.mark.parametrize(
    ("key", "says"),
    [
        (
            ("Status", "Levre"),
            "no signal ('Status', 'Levre') was decoded – did you mean ('Status', 'Lever')?",
        ),
        ("Status.Lever", "'Status.Lever' is not the key of a series – write ('Status', 'Lever')"),
        (("nothing", "like it"), "no signal ('nothing', 'like it') was decoded"),
    ],
)
def test_a_signal_that_is_not_there_is_answered_with_what_is(key, says):
    found = decode(hand_made([Frame(0x100, b"\x00" * 8)]), DATABASE)
    with pytest.raises(KeyError) as caught:
        found[key]
    assert isinstance(caught.value, UsageError)
    assert str(caught.value) == says
    assert found.get(key) is None
    assert key not in found
