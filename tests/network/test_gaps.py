"""Gaps counted: a few of them exactly, many in classes."""

from __future__ import annotations

import math
from collections import Counter

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.network import Gaps, GapTally

EXACT = 4096  # different gaps of one message that are told apart


def tallied(gaps: list[int], parts: int = 1) -> Gaps:
    tally = GapTally()
    for part in np.array_split(np.array(gaps, np.int64), parts):
        tally.add(part)
    return tally.result()


def counted(gaps: Gaps) -> list[tuple[int, int]]:
    return list(zip(gaps.values.tolist(), gaps.counts.tolist(), strict=True))


@pytest.mark.parametrize("distinct", [1, 2, 129, 600, EXACT])
def test_few_different_gaps_are_counted_exactly(distinct: int) -> None:
    rng = np.random.default_rng(distinct)
    values = rng.permutation(1 << 14)[:distinct].astype(np.int64) ** 3
    values[0] = 0
    gaps = [*values.tolist(), *rng.choice(values, 2 * distinct).tolist()]
    assert counted(tallied(gaps, 3)) == sorted(Counter(gaps).items())


@pytest.mark.parametrize("distinct", [EXACT + 1, 40_000])
def test_many_are_counted_in_narrow_classes_whatever_their_order(distinct: int) -> None:
    rng = np.random.default_rng(distinct)
    gaps = rng.integers(0, 1 << rng.integers(20, 45, distinct)).tolist()
    gaps = [*dict.fromkeys(gaps), *gaps][: 2 * distinct]
    found = tallied(gaps)
    assert len(found) == len(gaps)
    assert len(found.values) < 30 * 256
    ordered = sorted(gaps)
    for percent in (1, 10, 50, 90, 99):
        exact = ordered[max(1, math.ceil(percent / 100 * len(gaps))) - 1]
        assert found.percentile_ns(percent) == pytest.approx(exact, rel=0.004, abs=1024)
    assert found.mean_ns == pytest.approx(sum(gaps) / len(gaps), rel=1e-6)
    assert counted(tallied(sorted(gaps), 5)) == counted(found)


def test_a_gap_that_keeps_coming_is_exact_in_its_class_too() -> None:
    gaps = [20_017_000] * 9 + [30_000_000 + 500_000 * number for number in range(EXACT)]
    assert tallied(gaps).percentile_ns(0) == 20_017_000


def test_a_tally_that_is_copied_goes_its_own_way() -> None:
    tally = GapTally()
    tally.add(np.array([5, 5, 7]))
    other = tally.copy()
    tally.add(np.array([9]))
    assert (counted(tally.result()), counted(other.result())) == ([(5, 2), (7, 1), (9, 1)], [(5, 2), (7, 1)])


def test_no_gap_at_all() -> None:
    none = GapTally().result()
    assert (len(none), none.percentile_ns(50), none.mean_ns, none.longest_ns) == (0, None, None, None)


@given(st.lists(st.integers(0, 50)), st.lists(st.integers(0, 50)))
def test_sums_are_those_of_all_gaps_together(first: list[int], second: list[int]) -> None:
    assert counted(tallied(first) + tallied(second)) == sorted(Counter(first + second).items())
