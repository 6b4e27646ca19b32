"""What is told of a replay that was recorded; no time of this machine is judged."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.bench.punctuality import compare

MS = 1_000_000


def test_periods_and_jitter_of_both_sides() -> None:
    """Every other frame of one message is 1 ms late; the other comes every 20.4 ms instead of 20."""
    ten = np.arange(101) * 10 * MS
    twenty = np.arange(51) * 20 * MS + MS
    times = np.concatenate([ten, twenty])
    ids = np.array([1] * 101 + [2] * 51, np.uint32)
    order = np.argsort(times, kind="stable")
    times, ids = times[order], ids[order]
    late = np.where(ids == 1, MS * (np.cumsum(ids == 1) % 2), 400_000 * np.cumsum(ids == 2))
    found = compare(times, ids, times + late + 77 * MS, least=50)
    assert [message.can_id for message in found.gaps] == [1, 2]
    assert found.gaps[0].log == pytest.approx((10, 10, 10))
    assert found.gaps[0].recorded[1:] == pytest.approx((9, 11))
    assert found.gaps[1].recorded == pytest.approx((20.4, 20.4, 20.4))
    assert found.jitter_ms == pytest.approx((0, 1))  # the median of 2 and 0
    log, off = found.period_ms
    assert (log, off) == (pytest.approx(15), pytest.approx(0.2))


def test_drift_is_what_the_end_is_later_than_the_beginning() -> None:
    times = np.arange(2000) * MS
    slow = (times * 1.001).astype(np.int64)
    found = compare(times, np.ones(2000, np.uint32), slow)
    assert found.drift_ms == pytest.approx(1.5)  # from the middle of the first 500 to that of the last
    assert compare(times, np.ones(2000, np.uint32), times[:-1]).gaps == ()


def test_lost_frames_leave_nothing_to_compare() -> None:
    found = compare(np.arange(100) * MS, np.ones(100, np.uint32), np.arange(98) * MS)
    assert (found.sent, found.recorded, found.gaps) == (100, 98, ())
    assert math.isnan(found.drift_ms)
