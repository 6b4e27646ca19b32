"""Load: the bits of the frames (checked elsewhere) over time; the frame lengths here are worked out by hand.

With data 55…, id 0x555: one stuff bit (checkvalues of one independent bit model), so 112 bits a frame.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.capture import BRS, FD
from netcheck.network import FrameTally, LoadRates, Peak, SurveyPlan
from tests.captures import Frame, hand_made
from tests.naive import naive_busiest
from tests.network.logs import ERROR_FLAG, Line, channel_of

FRAME = b"\x55" * 8
BITS = 112


def frames(times):
    return [Line(time, 0x555, FRAME) for time in times]


def test_mean_and_peaks(tmp_path):
    times = (
        [10 * n for n in range(200)] + [2000 + n for n in range(100)] + [2100 + 10 * n for n in range(191)]
    )
    plan = SurveyPlan(stated=LoadRates(500_000))
    for chunk_bytes in (None, 500):
        channel = channel_of(tmp_path, frames(times), plan, chunk_bytes)
        assert channel.bits.total == 491 * BITS
        assert channel.load.mean == pytest.approx(491 * BITS / 500_000 / 4.0)
        assert channel.load.mean_awake == channel.load.mean
        assert channel.load.peak_100ms == pytest.approx(100 * BITS / 500_000 / 0.1)
        assert channel.load.peak_1s == pytest.approx((100 + 90) * BITS / 500_000)


def test_asleep_time_counts_for_the_mean_only(tmp_path):
    channel = channel_of(tmp_path, frames([0, 500, 10_000, 10_500]), SurveyPlan(stated=LoadRates(125_000)))
    assert channel.load.mean == pytest.approx(4 * BITS / 125_000 / 10.5)
    assert channel.load.mean_awake == pytest.approx(4 * BITS / 125_000 / 1.0)


def test_error_frames_count_as_no_bits(tmp_path):
    lines = [*frames([0, 10]), Line(20, ERROR_FLAG | 8, bytes(8))]
    assert channel_of(tmp_path, lines).bits.total == 2 * BITS


def test_without_a_bit_rate_there_is_no_load(tmp_path):
    channel = channel_of(tmp_path, frames([0, 10]))
    assert channel.load is None
    assert channel.rates is None


def test_a_faster_data_phase_takes_less_time(tmp_path):
    lines = [Line(10 * n, 0x555, "#1" + "55" * 64) for n in range(200)]
    slow = channel_of(tmp_path, lines, SurveyPlan(stated=LoadRates(500_000)))
    fast = channel_of(tmp_path, lines, SurveyPlan(stated=LoadRates(500_000, 2_000_000)))
    assert slow.load.is_bound
    assert not fast.load.is_bound
    # 64 bytes are 512 data bits, of 600 or so: a quarter of the time for most of the frame.
    assert 0.25 < fast.load.mean / slow.load.mean < 0.45
    assert slow.load.mean == pytest.approx(slow.bits.total / 500_000 / 1.99)


SECOND = 1_000_000_000
WINDOWS = (SECOND // 10, SECOND)


def peaks(times: list[int], ratio: float = 1.0, flags: int = 0) -> tuple[Peak, ...]:
    """Of frames of 112 bits, or of CAN FD ones, at these times in ns."""
    tally = FrameTally(ratios=frozenset({ratio}))
    tally.add(hand_made([Frame(0x555, FRAME, flags, time) for time in times]))
    return tally.wire(0).peaks[ratio]


@given(st.lists(st.integers(0, 200_000_000), min_size=1, max_size=60))
def test_the_busiest_windows_are_those_of_a_plain_walk(steps):
    times = np.cumsum(steps).tolist()
    found = [peak.nominal for peak in peaks(times)]
    assert found == [naive_busiest([(time, BITS) for time in times], window) for window in WINDOWS]


@pytest.mark.parametrize(
    ("times", "most"),
    [
        ([0, 0.999999, 1], 2),  # a second ago is over
        ([0, 1, 2, -3600, -3599.5, -3599.1], 3),  # an hour back: anew
        ([0, 0.9, 0.3, 1.1, 1.5, 1.9], 4),  # half a second back: as if at 0.9
        ([3 - n / 10 for n in range(40)], 11),  # ever back: anew each second, not one crowd
        ([7] * 100_000, 100_000),  # all at once take one place
    ],
)
def test_clocks_that_stand_still_or_go_back(times, most):
    assert peaks([round((time + 7200) * SECOND) for time in times])[1].nominal == most * BITS


def test_more_time_stamps_than_a_bus_has_room_for_cost_no_more_memory():
    times = [number * 10_000 for number in range(150_000)]
    assert 100_000 * BITS <= peaks(times)[1].nominal <= 150_000 * BITS  # never less than there was


def test_the_busiest_second_is_that_of_the_bit_rates():
    """A second full of data-phase bits against one with more bits that take longer."""
    fd = [Frame(0x555, FRAME, FD | BRS, n * SECOND // 100) for n in range(60)]
    plain = [Frame(0x555, FRAME, 0, 5 * SECOND + n * SECOND // 100) for n in range(50)]
    tally = FrameTally(ratios=frozenset({8.0}))
    tally.add(hand_made([*fd, *plain]))
    load = tally.wire(0)
    assert load.busiest(LoadRates(500_000))[1].fast > 0
    assert load.busiest(LoadRates(500_000, 4_000_000))[1] == Peak(50 * BITS, 0)


@given(
    st.lists(
        st.tuples(st.integers(0, 200_000_000), st.sampled_from([0, FD, FD | BRS])), min_size=1, max_size=60
    ),
    st.frozensets(st.sampled_from([0.5, 1.5, 4.0, 8.0]), min_size=1),
)
def test_the_busiest_windows_at_each_ratio_of_bit_rates(steps, ratios):
    times = np.cumsum([step for step, _ in steps]).tolist()
    sent = [Frame(0x555, FRAME, flags, time) for time, (_, flags) in zip(times, steps, strict=True)]
    tally = FrameTally(ratios=ratios)
    tally.add(hand_made(sent))
    bits = {flags: FrameTally(ratios=ratios) for flags in (0, FD, FD | BRS)}
    for flags, alone in bits.items():
        alone.add(hand_made([Frame(0x555, FRAME, flags, 0)]))
    found = tally.wire(0).peaks
    for ratio in found:
        shares = {flags: alone.wire(0) for flags, alone in bits.items()}
        taken = {flags: load.nominal + load.fast / ratio for flags, load in shares.items()}
        frames = [(time, taken[flags]) for time, (_, flags) in zip(times, steps, strict=True)]
        told = [peak.nominal + peak.fast / ratio for peak in found[ratio]]
        assert told == pytest.approx([naive_busiest(frames, window) for window in WINDOWS])
