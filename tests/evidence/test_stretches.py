"""Frames as stretches of one value: what is said of a stretch holds for each of its frames."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from netcheck.evidence._stretches import Stretches
from netcheck.roles import Watch
from tests.evidence.test_observe import MESSAGE, field

LEVER = replace(field("Lever", 0, 8), scale=0.5, offset=-1.0, minimum=0.0, maximum=2.0)  # 2 to 6 are inside
WATCH = Watch("lever", "body", MESSAGE, LEVER, active=(3, 9), not_available=(4,))
FLOATING = Watch("lever", "body", MESSAGE, replace(LEVER, is_float=True, width=64))
NUMBERS = st.sampled_from([0.0, -0.0, 2.0, 5.0, 1e308, float("nan"), float("inf"), float("-inf")])


def stretches(values: list[float] | list[int], periods: list[int], watch: Watch) -> Stretches:
    raw = np.array(values, np.float64 if watch.signal.is_float else np.int64)
    return Stretches.of(raw, 10 * np.arange(len(raw)) ** 2, np.array(periods, np.int32), watch)


@given(st.lists(st.tuples(st.integers(0, 9), st.booleans()), max_size=40))
def test_each_frame(frames):
    values, periods = [value for value, _ in frames], np.cumsum([new for _, new in frames]).tolist()
    seen = stretches(values, periods, WATCH)
    assert seen.each(seen.raw).tolist() == values
    assert all(one != other for one, other in pairwise(seen.raw.tolist()))
    assert seen.each(seen.is_valid).tolist() == [2 <= value <= 6 and value != 4 for value in values]
    assert seen.each(seen.is_stray).tolist() == [not 2 <= value <= 6 for value in values]
    assert seen.each(seen.is_active).tolist() == [value == 3 for value in values]
    assert seen.each(seen.value).tolist() == [0.5 * value - 1 for value in values]
    assert seen.frames(seen.is_valid) == np.count_nonzero(seen.each(seen.is_valid))
    for begin, gap in zip(seen.begins.tolist(), seen.gaps_ns.tolist(), strict=True):
        is_near = begin > 0 and periods[begin] == periods[begin - 1]
        assert gap == (10 * begin**2 - 10 * (begin - 1) ** 2 if is_near else -1)


@given(st.lists(NUMBERS, max_size=20))
def test_numbers_that_are_none_have_stretches_too(values):
    seen = stretches(values, [0] * len(values), FLOATING)
    assert seen.each(seen.raw).tobytes() == np.array(values, np.float64).tobytes()
    assert seen.each(seen.is_valid).tolist() == [2 <= value <= 6 for value in values]
    assert seen.frames(~(seen.is_valid | seen.is_stray)) == sum(not np.isfinite(value) for value in values)
