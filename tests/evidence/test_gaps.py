"""Gaps counted in a table, and walked over the borders of awake stretches."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.evidence._gaps import Breaks, GapMeter, Gaps, GapTable
from tests.naive import naive_gaps

SECOND = 1_000_000_000


@pytest.mark.parametrize("distinct", [1, 2, 127, 128, 129, 600, 20_000])
def test_a_table_counts_each_gap(distinct: int) -> None:
    rng = np.random.default_rng(distinct)
    values = rng.integers(0, 1 << 40, distinct)
    values[0] = 0
    gaps = rng.choice(values, 3 * distinct)
    table = GapTable()
    for part in np.array_split(gaps, 3):
        table.add(part)
    assert counted(table.result()) == sorted(Counter(gaps.tolist()).items())


def counted(gaps: Gaps) -> list[tuple[int, int]]:
    return list(zip(gaps.values.tolist(), gaps.counts.tolist(), strict=True))


def test_an_empty_table() -> None:
    assert len(GapTable().result()) == 0


@given(st.lists(st.tuples(st.sampled_from([0, 5, 300, 1000, 1001, -7, -4000]), st.booleans()), min_size=1))
def test_gaps_are_walked_as_points_in_order(steps: list[tuple[int, bool]]) -> None:
    times = (np.cumsum([step for step, _ in steps]) * 1_000_000 + 100 * SECOND).tolist()
    frames, breaks, stretch = [], [], 0
    for number, (time, (_, is_own)) in enumerate(zip(times, steps, strict=True)):
        if number and abs(time - times[number - 1]) > SECOND:
            breaks.append((times[number - 1], time))
            stretch += 1
        if is_own:
            frames.append((time, stretch))
    meter = GapMeter(times[0])
    forked = meter.copy()
    shape = np.array(breaks, np.int64).reshape(-1, 2)
    meter.add(
        np.array([time for time, _ in frames], np.int64),
        np.array([stretch for _, stretch in frames], np.int32),
        Breaks(0, shape),
    )
    ended = naive_gaps([*frames, (times[-1], stretch)], breaks, 0, times[0])
    assert counted(meter.finish(times[-1])) == sorted(Counter(ended).items())
    assert counted(forked.finish(times[0])) == [(0, 1)]
