"""Assertions about signals and periods: what they take, and the picture they fail with."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from netcheck.capture import EXTENDED, FD
from netcheck.database import decode, load_database
from netcheck.errors import UsageError
from netcheck.testing import assert_period, assert_signal
from tests.captures import Frame, hand_made

MS = 1_000_000
START = 1_700_000_000_000_000_000
DBC = """VERSION ""

NS_ :

BS_:

BU_: COLUMN

BO_ 256 Selector: 2 COLUMN
 SG_ Lever : 0|4@1+ (1,0) [0|0] "" COLUMN
 SG_ Speed : 8|8@1+ (0.5,0) [0|0] "km/h" COLUMN

BO_ 2147484160 Wide: 1 COLUMN
 SG_ Byte : 0|8@1+ (1,0) [0|0] "" COLUMN

VAL_ 256 Lever 0 "P" 1 "R" 2 "N" 3 "D" ;
"""


@pytest.fixture
def database(tmp_path: Path):
    (tmp_path / "x.dbc").write_text(DBC)
    return load_database(tmp_path / "x.dbc")


def drive() -> list[Frame]:
    """Twenty seconds, first another message: P, R from 8 to 11, D from 12; the speed goes up from 12 on."""
    some = [Frame(0x7, b"", 0, START - 500 * MS)]
    for n in range(200):
        second = n / 10
        lever = 0 if second < 8 else 1 if second < 11 else 2 if second < 12 else 3
        some.append(Frame(0x100, bytes([lever, int(max(second - 12, 0) * 20)]), 0, START + n * 100 * MS))
    return some


@pytest.fixture
def series(database):
    return decode(hand_made(drive()), database)


@pytest.mark.parametrize(
    ("at", "is_"),
    [(8.5, "R"), (11.4999, "R"), (0.5, "P"), (9.0, 1), (9.0, 1.0), (9.0, (0.5, 1.5)), (20.9, "D")],
)
def test_a_signal_is_what_came_last(series, at, is_):
    # Seconds count from the capture's first frame, half a second before the signal's.
    assert_signal(series["Selector", "Lever"], at=at, is_=is_)


def test_a_physical_value_and_how_far_off_it_may_be(series):
    speed = series["Selector", "Speed"]
    assert_signal(speed, at=13.5, is_=10)
    assert_signal(speed, at=13.5, is_=11.0, tolerance=1)
    with pytest.raises(AssertionError, match=r"Speed is 10 km/h at 13.500 s, not 11 km/h ± 0.5"):
        assert_signal(speed, at=13.5, is_=11.0, tolerance=0.5)


def failure(call, *arguments, **named) -> list[str]:
    with pytest.raises(AssertionError) as caught:
        call(*arguments, **named)
    return str(caught.value).splitlines()


def test_a_wrong_state_shows_what_was_seen(series):
    assert failure(assert_signal, series["Selector", "Lever"], at=12.4, is_="R") == [
        "Selector.Lever is N at 12.400 s, not R",
        "  8.400 s                                                 16.400 s",
        "  RRRRRRRRRRRRRRRRRRRRRRRRNNNNNNNNNDDDDDDDDDDDDDDDDDDDDDDDDDDDDDDD",
        "                                  ^ 12.400 s",
        "  P = P, R = R, N = N, D = D",
        "nearest: R from 8.500 s to 11.400 s",
        "in all: 80 × P, 30 × R, 10 × N, 80 × D",
    ]


def test_a_wrong_number_shows_bars(series):
    assert failure(assert_signal, series["Selector", "Speed"], at=19.0, is_=(0.0, 5.0)) == [
        "Selector.Speed is 65 km/h at 19.000 s, not from 0 km/h to 5 km/h",
        "  15.000 s                                                23.000 s",
        "  ▁▁▁▁▁▁▂▂▂▂▂▃▃▃▃▃▄▄▄▄▄▄▅▅▅▅▅▆▆▆▆▆▆▇▇▇▇████████...................",
        "                                  ^ 19.000 s",
        "  ▁ = 25 km/h, █ = 78.5 km/h",
        "nearest: from 0 km/h to 5 km/h from 0.500 s to 13.000 s",
        "in all: 200 values, 0 km/h to 78.5 km/h",
    ]


def test_an_old_value_is_none(series):
    lines = failure(assert_signal, series["Selector", "Lever"], at=22.0, is_="D")
    assert lines[0] == (
        "Selector.Lever has no value from 21.000 s to 22.000 s, the last came at 20.400 s, not D"
    )
    assert_signal(series["Selector", "Lever"], at=22.0, is_="D", within=2.0)
    assert failure(assert_signal, series["Selector", "Lever"], at=0.4, is_="P")[0] == (
        "Selector.Lever has no value up to 0.400 s, not P"
    )


def test_a_time_before_the_capture_is_shown_with_its_beginning(series):
    told = failure(assert_signal, series["Selector", "Lever"], at=-3.0, is_="P")
    assert told[0] == "Selector.Lever has no value up to -3.000 s, not P"
    assert told[1].split() == ["0.000", "s", "4.000", "s"]
    assert "^" not in "".join(told)


def test_a_signal_that_never_came(database):
    found = decode(hand_made([Frame(0x100, b""), Frame(0x100, b"")]), database)
    assert failure(assert_signal, found["Selector", "Speed"], at=0.0, is_=1) == [
        "Selector.Speed has no value up to 0.000 s, not 1 km/h",
        "  2 frames of Selector came, none that holds it, 2 too short",
        "it is never 1 km/h",
        "in all: no value",
    ]


def test_a_label_that_the_signal_does_not_have(series):
    with pytest.raises(UsageError, match=r"Selector\.Lever has no label 'Reverse' – it has P, R, N, D"):
        assert_signal(series["Selector", "Lever"], at=1.0, is_="Reverse")
    with pytest.raises(UsageError, match="no label 'R' – it has none; give a number"):
        assert_signal(series["Selector", "Speed"], at=1.0, is_="R")


def every(
    milliseconds: list[float], can_id: int = 0x100, flags: int = 0, channel: str = "can0"
) -> list[Frame]:
    times, now = [], 0.0
    for gap in [0.0, *milliseconds]:
        now += gap
        times.append(Frame(can_id, b"\0\0", flags, START + round(now * MS), channel))
    return times


def test_a_period_is_within_its_jitter(database):
    capture = hand_made(every([100, 95, 105, 109] * 50))
    assert_period(capture, 0x100, ms=100)
    assert_period(capture, "Selector", ms=100, jitter=9, database=database)
    assert_period(capture, database.message("Selector"), ms=100)
    with pytest.raises(AssertionError):
        assert_period(capture, 0x100, ms=100, jitter=8)


def test_two_gaps_of_a_hundred_may_be_off():
    assert_period(hand_made(every([100] * 99 + [400])), 0x100, ms=100)
    assert failure(assert_period, hand_made(every([100] * 98 + [400] * 2)), 0x100, ms=100) == [
        "0x100 does not come every 100 ms ± 10 ms",
        "  101 frames; gaps: median 100.0 ms, 98 of 100 from 100.0 to 400.0 ms",
        "   under 90 ms   0",
        "  90 to 110 ms  98 ##############################",
        "   over 110 ms   2 #",
        "longest: 400.0 ms, up to 10.200 s",
    ]


def test_a_sleep_of_the_whole_channel_is_no_gap():
    some = every([100] * 20 + [5000] + [100] * 20)
    assert_period(hand_made(some), 0x100, ms=100, jitter=1)
    awake = [Frame(0x5, b"", 0, START + n * 500 * MS) for n in range(20)]
    with pytest.raises(AssertionError, match=r"longest: 5000.0 ms, up to 7.000 s"):
        assert_period(hand_made(sorted([*some, *awake], key=lambda f: f.time_ns)), 0x100, ms=100, jitter=1)


def test_an_id_of_29_bits_and_one_on_several_channels():
    some = [
        *every([100] * 10, 0x12345678, EXTENDED | FD),
        *every([50] * 20),
        *every([20] * 50, channel="can1"),
    ]
    capture = hand_made(sorted(some, key=lambda frame: frame.time_ns))
    assert_period(capture, 0x12345678, ms=100)
    assert_period(capture, 0x100, ms=20, channel="can1")
    with pytest.raises(UsageError, match="0x100 is on can0 and can1 – say which with channel="):
        assert_period(capture, 0x100, ms=20)
    with pytest.raises(UsageError, match="has no channel can2 – it has can0, can1"):
        assert_period(capture, 0x100, ms=20, channel="can2")


def test_a_message_that_did_not_come(database):
    assert failure(assert_period, hand_made(every([100] * 3)), 0x123, ms=100) == [
        "0x123 came never in hand.log",
        "ids there: 0x100",
    ]
    capture = hand_made(every([100] * 3))
    with pytest.raises(UsageError, match="'Selector' is a name – give database="):
        assert_period(capture, "Selector", ms=100)
    with pytest.raises(UsageError, match=r"no message 'Selectr' in .* – there are Selector, Wide"):
        assert_period(capture, "Selectr", ms=100, database=database)


def on_two(database):
    """The same id on two channels, the levers in different states; seconds from the first frame."""
    some = [Frame(0x100, bytes([0, 0]), 0, START + n * 100 * MS) for n in range(50)]
    some += [Frame(0x100, bytes([1, 0]), 0, START + (n * 100 + 50) * MS, "can1") for n in range(50)]
    some += [Frame(0x7, b"", 0, START + n * 100 * MS, "can2") for n in range(50)]
    return decode(hand_made(sorted(some, key=lambda frame: frame.time_ns)), database)["Selector", "Lever"]


def test_a_signal_on_several_channels_is_not_mixed(database):
    lever = on_two(database)
    with pytest.raises(UsageError, match=r"Selector\.Lever is on can0 and can1 – say which with channel="):
        assert_signal(lever, at=2.0, is_="P")
    assert_signal(lever, at=2.0, is_="P", channel="can0")
    assert_signal(lever, at=2.0, is_="R", channel="can1")
    told = failure(assert_signal, lever, at=2.0, is_="P", channel="can1")
    assert told[0] == "Selector.Lever is R at 2.000 s, not P"
    assert told[-1] == "in all: 50 × R"


def test_a_channel_without_the_signal_and_one_that_is_not_there(database):
    lever = on_two(database)
    told = failure(assert_signal, lever, at=2.0, is_="P", channel="can2")
    assert told[0] == "Selector.Lever has no value up to 2.000 s, not P"
    with pytest.raises(UsageError, match="there is no channel can7 – it has can0, can2, can1"):
        assert_signal(lever, at=2.0, is_="P", channel="can7")


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"at": "4"}, "at is '4' (str), not a number – in seconds"),
        ({"at": float("nan")}, "at is nan, not a finite number – in seconds"),
        ({"is_": None}, "is_ is None (NoneType) – give a label, a number or (low, high)"),
        ({"is_": (1, 2, 3)}, "is_ is (1, 2, 3) (tuple), not (low, high) – give a label, a number or"),
        ({"is_": (1, "2")}, "is_ is (1, '2') (tuple), not (low, high)"),
        ({"is_": (5.0, 1.0)}, "is_ is (5, 1), an empty interval – the lower end first"),
        ({"is_": (0, float("nan"))}, "is_ is (0, nan), an empty interval"),
        ({"is_": float("nan")}, "is_ is nan (float)"),
        ({"within": -1}, "within is -1, below 0 – in seconds"),
        ({"within": None}, "within is None (NoneType), not a number – in seconds"),
        ({"tolerance": -0.5}, "tolerance is -0.5, below 0 – in the signal's unit"),
        ({"channel": 0}, "channel is 0 (int), not a text – it has can0"),
    ],
)
def test_wrong_arguments_of_a_signal_are_one_line(series, given, says):
    with pytest.raises(UsageError) as caught:
        assert_signal(series["Selector", "Lever"], **{"at": 1.0, "is_": "P", **given})
    assert says in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_long_value_is_not_printed():
    with pytest.raises(UsageError, match=r"^series is of type list, not a Series – decode"):
        assert_signal(["x" * 100], at=1.0, is_="P")


def test_numpys_numbers_are_numbers(series):
    assert_signal(series["Selector", "Lever"], at=np.float64(8.5), is_=np.int64(1), within=np.float32(1))
    assert_signal(series["Selector", "Lever"], at=8.5, is_=[1, 1])
    assert_period(hand_made(every([100] * 20)), np.uint32(0x100), ms=np.int64(100))
