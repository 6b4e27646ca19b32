"""Load: the bits of the frames (checked elsewhere) over time; the frame lengths here are worked out by hand.

With data 55…, id 0x555: one stuff bit (checkvalues of one independent bit model), so 112 bits a frame.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck._compile import kernels
from netcheck.capture import open_capture
from netcheck.network import LoadRates, SurveyPlan
from netcheck.network._load import LoadMeter
from tests.network.logs import ERROR_FLAG, Line, channel_of, text_of

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


def walked(times, bits, window) -> tuple[float, int]:
    """The most bits of a window, and the first frame of the last one."""
    most = np.zeros(1)
    first = kernels("netcheck.network._survey_kernels").busiest(
        np.array(times, np.int64), np.array(bits, float), window, most
    )
    return most[0], first


@given(
    st.lists(st.tuples(st.integers(0, 400), st.integers(1, 160)), min_size=1, max_size=40),
    st.sampled_from([100, 1000]),
)
def test_the_busiest_window_is_that_of_a_plain_walk(steps, window):
    times = np.cumsum([step for step, _ in steps])
    bits = np.array([float(bit) for _, bit in steps])
    most = max(bits[(times > end - window) & (times <= end)].sum() for end in times)
    last = int(np.flatnonzero(times > times[-1] - window)[0])
    assert walked(times, bits, window) == (most, last)


SECOND = 1_000_000_000


@pytest.mark.parametrize(
    ("times", "most", "first"),
    [
        ([0, 1, 2, -3600, -3599.5, -3599.1], 3, 3),  # an hour back: anew
        ([0, 0.9, 0.3, 1.1, 1.5, 1.9], 4, 3),  # half a second back: as if at 0.9
        ([3 - n / 10 for n in range(40)], 11, 33),  # ever back: anew each second, not one crowd
    ],
)
def test_clocks_that_go_back(times, most, first):
    assert walked([round(time * SECOND) for time in times], [1] * len(times), SECOND) == (most, first)


def test_memory_of_a_clock_that_goes_back_is_of_a_second(tmp_path):
    """A clock set back by an hour: what came before is done with, whatever comes after."""
    path = tmp_path / "back.log"
    lines = [Line(10 * n - 3_600_000 * (n > 100), 0x555, FRAME) for n in range(2000)]
    path.write_text(text_of(lines))
    meter = LoadMeter(frozenset())
    for chunk in open_capture(path, chunk_bytes=2000).reusing_buffers():
        meter.add(chunk, np.arange(len(chunk)))
        assert len(meter._times) <= 100
    assert meter.bits().peak_1s == 100 * BITS
