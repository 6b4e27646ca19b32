"""Gaps of a message, walked over the borders of awake periods."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from netcheck.evidence._gaps import Breaks, GapMeter
from netcheck.network import Gaps
from tests.naive import naive_gaps

SECOND = 1_000_000_000


def counted(gaps: Gaps) -> list[tuple[int, int]]:
    return list(zip(gaps.values.tolist(), gaps.counts.tolist(), strict=True))


@given(st.lists(st.tuples(st.sampled_from([0, 5, 300, 1000, 1001, -7, -4000]), st.booleans()), min_size=1))
def test_gaps_are_walked_as_points_in_order(steps: list[tuple[int, bool]]) -> None:
    times = (np.cumsum([step for step, _ in steps]) * 1_000_000 + 100 * SECOND).tolist()
    frames, breaks, period = [], [], 0
    for number, (time, (_, is_own)) in enumerate(zip(times, steps, strict=True)):
        if number and abs(time - times[number - 1]) > SECOND:
            breaks.append((times[number - 1], time))
            period += 1
        if is_own:
            frames.append((time, period))
    meter = GapMeter(times[0])
    forked = meter.copy()
    shape = np.array(breaks, np.int64).reshape(-1, 2)
    meter.add(
        np.array([time for time, _ in frames], np.int64),
        np.array([period for _, period in frames], np.int32),
        Breaks(0, shape),
    )
    ended = naive_gaps([*frames, (times[-1], period)], breaks, 0, times[0])
    assert counted(meter.finish(times[-1])) == sorted(Counter(ended).items())
    assert counted(forked.finish(times[0])) == [(0, 1)]
    follow = [max(b - a, 0) for (a, before), (b, after) in pairwise(frames) if before == after]
    assert counted(meter.between()) == sorted(Counter(follow).items())
