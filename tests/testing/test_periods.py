"""Periods from the first moment a channel is awake to the last: edges, holes, sleeps."""

from __future__ import annotations

from dataclasses import replace

import pytest

from netcheck.errors import UsageError
from netcheck.testing import assert_period
from tests.captures import Frame, hand_made

MS = 1_000_000
START = 1_700_000_000_000_000_000


def coming(start: float, end: float, period: float = 0.1, can_id: int = 0x100) -> list[Frame]:
    """From one second to another, both included."""
    count = round((end - start) / period) + 1
    return [Frame(can_id, b"", 0, START + round((start + n * period) * 1000) * MS) for n in range(count)]


def awake(start: float, end: float, period: float = 0.1) -> list[Frame]:
    """Another message, which keeps the channel awake."""
    return coming(start, end, period, can_id=0x7)


def among(*some: list[Frame]):
    return hand_made(sorted((frame for each in some for frame in each), key=lambda frame: frame.time_ns))


def failure(capture, ms: float = 100, **named: float) -> list[str]:
    with pytest.raises(AssertionError) as caught:
        assert_period(capture, 0x100, ms=ms, **named)
    return str(caught.value).splitlines()


def test_a_message_that_stops_while_the_channel_goes_on():
    told = failure(among(awake(0, 10), coming(0, 2)))
    assert told[0] == "0x100 does not come every 100 ms ± 10 ms"
    assert told[1] == "  21 frames; gaps: median 100.0 ms, 98 of 100 from 100.0 to 8000.0 ms"
    assert told[-2:] == [
        "longest: 8000.0 ms, up to 10.000 s",
        "no frame from 2.000 s to 10.000 s, while the channel was awake",
    ]


def test_a_message_that_starts_late():
    told = failure(among(awake(0, 10), coming(9, 10)))
    assert told[-1] == "no frame from 0.000 s to 9.000 s, while the channel was awake"


def test_a_message_that_comes_twice():
    told = failure(among(awake(0, 10), coming(4, 4.1)))
    assert told[-2:] == [
        "no frame from 0.000 s to 4.000 s, while the channel was awake",
        "no frame from 4.100 s to 10.000 s, while the channel was awake",
    ]


def test_an_awake_period_without_the_message():
    """The channel sleeps from 10 to 20 s."""
    told = failure(among(awake(0, 10), awake(20, 25), coming(0, 10)))
    assert told[-1] == "no frame from 20.000 s to 25.000 s, while the channel was awake"
    assert_period(among(awake(0, 10), awake(20, 25), coming(0, 10), coming(20, 25)), 0x100, ms=100)


def test_many_periods_without_it_are_cut_short():
    told = failure(among(coming(0, 2), *(awake(10 * n, 10 * n + 2) for n in range(8))))
    assert told[-2:] == [
        "no frame from 40.000 s to 42.000 s, while the channel was awake",
        "and 3 more times like that",
    ]


@pytest.mark.parametrize(("hole", "passes"), [(0.5, True), (0.6, False), (3.0, False)])
def test_a_single_hole_in_a_long_recording_counts(hole, passes):
    """One of 1,000 gaps: 98 of 100 are as they should be."""
    capture = among(awake(0, 100), coming(0, 50), coming(50 + hole, 100))
    if passes:
        assert_period(capture, 0x100, ms=100)
        return
    told = failure(capture)
    assert told[0] == "0x100 comes every 100 ms ± 10 ms, but stays away for longer than 500 ms"
    assert f"longest: {1000 * hole:.1f} ms, up to {50 + hole:.3f} s" in told
    assert_period(capture, 0x100, ms=100, longest=3000)


def test_edges_within_a_period_are_none():
    assert_period(among(awake(0, 10), coming(0.1, 9.9)), 0x100, ms=100)
    assert failure(among(awake(0, 10), coming(0.2, 9.9)))[-1].startswith("no frame from 0.000 s to 0.200 s")


def test_a_short_edge_hides_no_wrong_gap():
    """Of 99 gaps one is wrong: that is more than one of a hundred, whatever stands at the edges."""
    gaps = [*coming(0.05, 5), *coming(5.2, 9.95)]
    assert len(gaps) == 99
    assert failure(among(awake(0, 10), gaps))[0] == "0x100 does not come every 100 ms ± 10 ms"


def test_a_slow_network_does_not_sleep_between_its_frames():
    """All its messages come every two seconds: it is awake up to five seconds of silence."""
    assert_period(among(awake(0, 100, 2), coming(0, 100, 2)), 0x100, ms=2000)
    told = failure(among(awake(0, 100, 2), coming(0, 50, 2)), ms=2000)
    assert told[-1] == "no frame from 50.000 s to 100.000 s, while the channel was awake"


def test_without_times_no_period_is_known():
    capture = replace(among(coming(0, 2)), has_times=False)
    assert failure(capture) == ["hand.log has no time stamps: how often 0x100 comes is not known"]


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"ms": 0}, "ms is 0, not above 0 – in milliseconds"),
        ({"ms": "100"}, "ms is '100' (str), not a number – in milliseconds"),
        ({"jitter": -1}, "jitter is -1, below 0 – in milliseconds"),
        ({"longest": 0}, "longest is 0, not above 0 – in milliseconds"),
        ({"message": 1.5}, "message is 1.5 (float), neither an id nor a message – give an id such as 0x123"),
        ({"message": None}, "message is None (NoneType), neither an id nor a message"),
        ({"message": True}, "message is True (bool), neither an id nor a message"),
        ({"message": 1 << 29}, "message is 536870912, no id of 11 or 29 bits"),
        ({"message": -1}, "message is -1, no id of 11 or 29 bits"),
        ({"capture": "x.log"}, "capture is 'x.log' (str), not a Capture – read_capture(file) gives one"),
        ({"database": "x.dbc"}, "database is 'x.dbc' (str), not a Database – load_database(file) gives one"),
        ({"channel": 0}, "channel is 0 (int), not a text – it has can0"),
    ],
)
def test_wrong_arguments_are_one_line(given, says):
    with pytest.raises(UsageError) as caught:
        assert_period(**{"capture": among(coming(0, 2)), "message": 0x100, "ms": 100, **given})
    assert says in str(caught.value)
    assert "\n" not in str(caught.value)
