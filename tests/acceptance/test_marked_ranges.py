"""Ranges whose ends binary fractions miss."""

from __future__ import annotations

import pytest

from tests.acceptance.cases import SHOWN, TEMP, Case, during, every, expected, missing


@pytest.mark.parametrize(
    ("between", "outcome"),
    [
        ((0.3, 0.3), SHOWN),
        ((0.1, 0.3), SHOWN),
        ((0.3, 9.0), SHOWN),
        ((0.0, 0.29), expected("some-answers")),  # 0 shortly before and after the mark
        ((0.31, 9.0), missing("no-answer")),
    ],
)
def test_the_ends_of_a_range_are_decimal_numbers(tmp_path, between, outcome):
    # raw 3 of 0.1 each is 0.3 to a person, though 3 * 0.1 > 0.3 in binary
    case = Case(tmp_path).role("level", "body ClimateStatus Level")
    case.item().need("level", evidence="answers")
    log = case.log().send(TEMP, every(0.1), during(2.0, 5.0, "00030000", "00000000"))
    log.mark("level", 2.0, 5.0, between=list(between))
    assert case.outcome() == outcome
