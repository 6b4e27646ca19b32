"""How full a wire is, counted chunk by chunk."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.capture import BRS, ERROR, EXTENDED, FD, REMOTE, Capture
from netcheck.network import FrameId, FrameTally, LoadRates, merged_loads
from netcheck.network._tally_book import MOST_IDS
from tests.naive import naive_busiest

MS = 1_000_000
Row = tuple[int, int, int, int]  # ns, id, flags, channel


def capture(*rows: Row, length: int = 8) -> Capture:
    time_ns, can_id, flags, channel = np.array(rows or np.empty((0, 4)), np.int64).T
    return Capture(
        file="hand.log",
        channels=("can0", "can1"),
        time_ns=np.ascontiguousarray(time_ns),
        can_id=can_id.astype(np.uint32),
        flags=flags.astype(np.uint8),
        channel=channel.astype(np.uint8),
        length=np.full(len(rows), length, np.uint8),
        start=np.arange(len(rows), dtype=np.int64) * length,
        data=np.full(len(rows) * length, 0x55, np.uint8),
    )


RATES = LoadRates(500_000, 2_000_000)


def counting() -> FrameTally:
    return FrameTally(ratios=frozenset({4.0}))


def bits_of(one: Capture) -> tuple[int, int]:
    """Bits on the wire by phase, checked elsewhere."""
    tally = counting()
    tally.add(one)
    return tally.wire(0).nominal, tally.wire(0).fast


def load(*rows: Row, channel: int = 0, length: int = 8):
    tally = counting()
    tally.add(capture(*rows, length=length))
    return tally.load(channel)


def regular(can_id: int, period: int, count: int, *, start: int = 0, flags: int = 0) -> list[Row]:
    return [(start + number * period, can_id, flags, 0) for number in range(count)]


def test_a_message_every_10_ms_fills_100_frames_of_the_busiest_second():
    # 0x555 with 55 in every byte takes 112 bits on the wire.
    found = load(*regular(0x555, 10 * MS, 301))
    assert found.busiest(RATES)[1] == (100 * 112, 0)
    assert found.shares(RATES, 3.0, 3.0).peak_1s == pytest.approx(0.0224)
    (message,) = found.messages.values()
    assert (message.count, message.length, message.bits) == (301, 8, 112)
    assert (message.median_ns, message.is_cyclic) == (10 * MS, True)


def test_the_busiest_second_may_begin_at_any_10_ms():
    # 30 frames from 0.5 s to 0.79 s and 20 from 1.3 s: none of the seconds on the clock has all 50.
    rows = [*regular(0x555, 10 * MS, 30, start=500 * MS), *regular(0x555, 10 * MS, 20, start=1300 * MS)]
    assert load(*rows).busiest(RATES)[1].nominal == 50 * 112


def test_error_frames_cost_nothing_and_remote_frames_are_no_message():
    found = load((0, 0x555, REMOTE, 0), (MS, 0x20, ERROR, 0))
    assert found.messages == {}
    assert found.busiest(RATES)[1].nominal == bits_of(capture((0, 0x555, REMOTE, 0)))[0] > 0


def test_channels_and_id_widths_are_kept_apart():
    tally = counting()
    tally.add(capture((0, 0x123, 0, 0), (0, 0x123, EXTENDED, 0), (0, 0x124, 0, 1)))
    assert list(tally.load(0).messages) == [FrameId(0x123, False), FrameId(0x123, True)]
    assert list(tally.load(1).messages) == [FrameId(0x124, False)]
    assert tally.load(7).messages == {}


def test_a_gap_over_a_silence_of_the_channel_is_none():
    rows = [*regular(0x555, 100 * MS, 6), *regular(0x555, 100 * MS, 6, start=60_000 * MS)]
    (message,) = load(*rows).messages.values()
    assert (message.median_ns, message.is_cyclic) == (100 * MS, True)


def test_a_message_now_and_then_is_not_cyclic():
    times = [0, 50, 500, 520, 1300, 1310, 2200, 2900, 2950, 3800]
    (message,) = load(*[(time * MS, 0x555, 0, 0) for time in times]).messages.values()
    assert not message.is_cyclic
    assert message.mean_ns == pytest.approx(3800 * MS / 9)
    (message,) = load(*regular(0x555, 100 * MS, 5)).messages.values()  # four gaps are too few
    assert (message.median_ns, message.is_cyclic) == (100 * MS, False)
    (message,) = load((0, 0x555, 0, 0)).messages.values()
    assert message.median_ns is None


def test_jitter_of_a_tenth_leaves_a_message_cyclic():
    times = np.cumsum(np.tile([90, 110, 100], 20))
    (message,) = load(*[(int(time) * MS, 0x555, 0, 0) for time in times]).messages.values()
    assert message.is_cyclic
    assert message.median_ns == pytest.approx(100 * MS, rel=0.06)


def test_the_data_phase_is_counted_apart():
    rows = regular(0x555, 100 * MS, 20, flags=FD | BRS)
    found = load(*rows)
    nominal, fast = bits_of(capture(rows[0]))
    assert found.busiest(RATES)[1] == (10 * nominal, 10 * fast)
    (message,) = found.messages.values()
    assert (message.is_fd, message.is_fast, message.fast_bits) == (True, True, fast)
    assert found.shares(RATES, 2.0, 2.0).peak_1s == pytest.approx(10 * nominal / 5e5 + 10 * fast / 2e6)


def test_a_clock_that_jumps_back_begins_a_new_second():
    rows = [*regular(0x555, 10 * MS, 50, start=100_000 * MS), *regular(0x555, 10 * MS, 80)]
    assert load(*rows).busiest(RATES)[1].nominal == 80 * 112


def test_ids_beyond_the_most_are_counted_and_still_load_the_wire():
    rows = [(number * MS, number, EXTENDED, 0) for number in range(MOST_IDS + 3)]
    found = load(*rows, length=1)
    assert (len(found.messages), found.strangers) == (MOST_IDS, 3)


def test_several_recordings_of_a_network_are_one():
    one, other = load(*regular(0x555, 10 * MS, 20)), load(*regular(0x555, 20 * MS, 30), (0, 0x556, 0, 0))
    both = merged_loads([one, other])
    each = zip(one.busiest(RATES), other.busiest(RATES), strict=True)
    assert both.busiest(RATES) == tuple(max(window) for window in each)
    assert both.messages[FrameId(0x555, False)].median_ns == 20 * MS  # seen there more often
    assert len(both.messages) == 2


@given(
    st.lists(st.tuples(st.integers(0, 400 * MS), st.integers(0, 0x7FF)), min_size=1, max_size=60),
    st.lists(st.integers(0, 60), max_size=4),
)
def test_chunks_add_up_and_the_second_is_that_of_a_plain_walk(steps, cuts):
    times = np.cumsum([step for step, _ in steps])
    rows = [(int(time), can_id, 0, 0) for time, (_, can_id) in zip(times, steps, strict=True)]
    tally = counting()
    for begin, end in zip([0, *sorted(cuts)], [*sorted(cuts), len(rows)], strict=True):
        tally.add(capture(*rows[begin:end]))
    found = tally.load(0)
    assert found == load(*rows)
    bits = [bits_of(capture(row))[0] for row in rows]
    own = list(zip(times.tolist(), bits, strict=True))
    assert [peak.nominal for peak in found.busiest(RATES)] == [
        naive_busiest(own, 100 * MS),
        naive_busiest(own, 1000 * MS),
    ]
