"""Steps of a counter and rows of one value, against a plain walk."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.database import Extracted
from netcheck.evidence._bundle import Bundle, Rows
from netcheck.evidence._meter import CounterMeter
from tests.evidence.test_observe import field

Walk = list[tuple[int, int]]  # value and awake period


def walked(frames: Walk, modulo: int) -> tuple[Counter[int], Counter[int], int]:
    steps: Counter[int] = Counter()
    lengths: list[int] = []  # of rows of one value
    begun: list[bool] = []  # by a step inside an awake period
    for place, (value, period) in enumerate(frames):
        is_same = place > 0 and frames[place - 1][1] == period
        step = (value - frames[place - 1][0]) % modulo if place else 0
        steps[step] += is_same
        if is_same and step == 0:
            lengths[-1] += 1
            continue
        lengths.append(1)
        begun.append(is_same)
    whole = [began and ended for began, ended in zip(begun, [*begun[1:], False], strict=True)]
    runs = Counter(length for length, is_whole in zip(lengths, whole, strict=True) if is_whole)
    cut = max((length for length, is_whole in zip(lengths, whole, strict=True) if not is_whole), default=0)
    return +steps, runs, cut


def met(frames: Walk, width: int, maximum: float | None, cuts: list[int]) -> CounterMeter:
    meter = CounterMeter(replace(field("Count", 0, width), maximum=maximum))
    nothing = Bundle.empty(0, 0)
    for begin, end in zip([0, *cuts], [*cuts, len(frames)], strict=True):
        values = np.array([value for value, _ in frames[begin:end]], np.int64)
        awake = np.array([period for _, period in frames[begin:end]], np.int32)
        whole = np.ones(len(values), np.bool_)
        signal = field("Count", 0, width)
        rows = Rows(nothing, np.arange(len(values)), np.zeros(len(values), np.int64), awake)
        meter.add(rows, Extracted(whole, whole, whole, whole, signal, values))
    return meter


@given(
    st.lists(st.tuples(st.integers(0, 1), st.booleans()), min_size=1, max_size=60),
    st.lists(st.integers(0, 60), max_size=3),
    st.sampled_from([None, 14.0, 9.0]),
)
def test_steps_and_rows(turns, cuts, maximum):
    value, period, frames = 0, 0, []
    for step, is_new in turns:
        value, period = (value + step) % 16, period + is_new
        frames.append((value, period))
    seen = met(frames, 4, maximum, sorted(min(cut, len(frames)) for cut in cuts)).result()
    steps, runs, cut = walked(frames, 16 if maximum is None else round(maximum) + 1)
    assert (dict(seen.steps), dict(seen.runs), seen.cut) == (steps, runs, cut)
    assert seen.steps == tuple(sorted(seen.steps))


@pytest.mark.parametrize("width", [12, 40, 64])
def test_many_different_steps_have_room(width):
    values = np.cumsum(np.arange(300) ** 2 % (1 << min(width, 20))).tolist()
    frames = [(value, 0) for value in values for _ in range(1 + value % 3)]
    seen = met(frames, width, None, [100]).result()
    assert (dict(seen.steps), dict(seen.runs), seen.cut) == walked(frames, 1 << min(width, 62))
