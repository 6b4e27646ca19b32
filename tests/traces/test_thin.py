"""Thinning keeps all that a chart shows: changes of a state, the least and the largest of each bucket."""

from __future__ import annotations

import math

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from netcheck.traces import Thinner
from netcheck.traces._thin import Samples, extremes, fewer

NO_VALUE = float("nan")
ROWS = st.lists(
    st.tuples(st.integers(0, 200), st.sampled_from([0.0, 1.0, 2.0, 7.5, -3.0, NO_VALUE])), max_size=120
)


def columns(rows):
    rows = sorted(rows, key=lambda row: row[0])
    return np.array([row[0] for row in rows], np.int64), np.array([row[1] for row in rows], float)


def same(some: float, other: float) -> bool:
    return some == other or (math.isnan(some) and math.isnan(other))


@given(ROWS, st.integers(1, 64))
def test_the_extremes_of_each_bucket_are_kept(rows, width):
    time, value = columns(rows)
    kept = set(extremes(time, value, width).tolist())
    for bucket in set((time // width).tolist()):
        inside = [n for n in range(len(time)) if time[n] // width == bucket]
        valid = [n for n in inside if value[n] == value[n]]
        expected = set()
        if valid:
            expected.add(min(valid, key=lambda n: (value[n], n)))
            expected.add(max(valid, key=lambda n: (value[n], n)))
        expected |= set([n for n in inside if n not in valid][:1])
        assert {n for n in kept if n in inside} == expected


@given(ROWS, st.integers(0, 4), st.integers(0, 4))
def test_thinning_again_is_as_thinning_once(rows, first, more):
    time, value = columns(rows)
    narrow = extremes(time, value, 1 << first)
    again = narrow[extremes(time[narrow], value[narrow], 1 << (first + more))]
    assert again.tolist() == extremes(time, value, 1 << (first + more)).tolist()


@given(ROWS, st.integers(3, 40))
def test_no_more_rows_than_asked_for(rows, most):
    time, value = columns(rows)
    kept, width = fewer(time, value, most, 1)
    assert len(kept) <= most
    if len(value) <= most:
        assert len(kept) == len(value)
        assert width == 1


@given(st.lists(ROWS, max_size=6))
def test_states_keep_every_change_whatever_the_chunks(chunks):
    start, thinner, times, values = 0, Thinner(10_000, is_state=True), [], []
    for rows in chunks:
        time, value = columns(rows)
        thinner.add(time + start, value)
        times += (time + start).tolist()
        values += value.tolist()
        start += 201
    edges = [n for n in range(len(values)) if n == 0 or not same(values[n], values[n - 1])]
    kept_time, kept_value = thinner.result()
    kept = list(zip(kept_time.tolist(), kept_value.tolist(), strict=True))
    assert thinner.changes == max(len(edges) - 1, 0)
    assert thinner.rows == len(values)
    assert thinner.is_whole
    wanted = [(times[n], values[n]) for n in edges]
    assert [time for time, _ in kept][: len(wanted)] == [time for time, _ in wanted]
    assert all(same(a[1], b[1]) for a, b in zip(kept, wanted, strict=False))
    if values:
        assert kept[-1][0] == times[-1]
        assert len(kept) <= len(wanted) + 1


def test_a_long_quantity_keeps_its_peaks_and_says_that_it_is_thinned():
    generator = np.random.default_rng(5)
    value = generator.normal(size=200_000)
    value[[777, 150_000]] = 50.0, -50.0
    time = np.arange(200_000, dtype=np.int64) * 10_000_000
    thinner = Thinner(2_000, is_state=False)
    for begin in range(0, len(value), 7_000):
        thinner.add(time[begin : begin + 7_000], value[begin : begin + 7_000])
    kept_time, kept = thinner.result()
    assert not thinner.is_whole
    assert 300 < len(kept) <= 2_000
    assert (kept.min(), kept.max()) == (-50.0, 50.0)
    assert {777, 150_000} <= set((kept_time // 10_000_000).tolist())


def test_a_short_quantity_is_kept_row_by_row():
    time, value = np.arange(50, dtype=np.int64), np.full(50, 3.0)
    thinner = Thinner(50, is_state=False)
    thinner.add(time, value)
    assert thinner.is_whole
    assert thinner.result()[0].tolist() == time.tolist()


def test_frames_of_both_sides_of_a_change_are_sampled():
    samples = Samples(100, is_state=True)
    for begin in (0, 3):
        time = np.arange(begin, begin + 3, dtype=np.int64)
        samples.add(time, np.array([0.0, 0.0, 0.0] if begin == 0 else [1.0, 1.0, 0.0]), lambda n: bytes([n]))
    assert [row[0] for row in samples.result()] == [0, 2, 3, 4, 5]
    assert samples.result()[1] == (2, 0.0, b"\2")


def test_samples_of_a_quantity_have_its_peaks():
    samples = Samples(20, is_state=False)
    for begin in range(0, 5_000, 1_000):
        time = np.arange(begin, begin + 1_000, dtype=np.int64) * 1_000_000
        value = np.sin(time / 3e8)
        value[500] = 9.0 if begin == 2_000 else value[500]
        samples.add(time, value, lambda n: bytes([n % 256]))
    rows = samples.result()
    assert len(rows) <= 20
    assert max(row[1] for row in rows) == 9.0
