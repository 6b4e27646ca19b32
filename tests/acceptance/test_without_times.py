"""A capture whose lines have no time stamps shows presence, movement and counters, and nothing with times."""

from __future__ import annotations

import pytest

import netcheck
from netcheck.report import warning_text
from tests.acceptance.cases import (
    LEVER,
    SHOWN,
    Case,
    conflicts,
    during,
    every,
    expected,
    lever_case,
    missing,
)

P, R = "00000000", "01000000"
GEARS = during(2.0, 5.0, R, P)
NO_TIME = expected("no-time")


def untimed(case, data=GEARS):
    log = case.log().send(LEVER, every(0.1), data)
    log.is_timed = False
    return log


@pytest.mark.parametrize(
    ("need", "outcome"),
    [
        ({"evidence": "present"}, SHOWN),
        ({"evidence": "moves"}, SHOWN),
        ({"evidence": "answers"}, NO_TIME),
        ({"evidence": "moves", "max_gap_ms": 5000}, NO_TIME),
        ({"evidence": "present", "max_delay_ms": 5000}, NO_TIME),
        ({"evidence": "defined", "max_gap_ms": 1, "max_delay_ms": 1}, SHOWN),
    ],
)
def test_only_a_need_that_asks_for_times_lacks_them(tmp_path, need, outcome):
    case = lever_case(tmp_path, **need)
    untimed(case)
    assert case.outcome() == outcome


@pytest.mark.parametrize("need", [{"evidence": "answers"}, {"max_gap_ms": 100}, {"max_delay_ms": 100}])
def test_another_capture_of_the_network_with_times_will_do(tmp_path, need):
    case = lever_case(tmp_path, **need)
    untimed(case)
    case.log("drive")
    assert case.outcome() == NO_TIME
    case.log().send(LEVER, every(0.1), GEARS).mark("reverse", 2.0, 5.0)
    assert case.outcome() == SHOWN


def test_rates_are_those_of_the_captures_with_times(tmp_path):
    case = lever_case(tmp_path, max_gap_ms=150)
    untimed(case)
    case.log().send(LEVER, every(0.2), P)
    assert case.outcome() == missing("too-slow")


def test_movement_may_come_from_the_capture_without_times(tmp_path):
    case = lever_case(tmp_path, max_gap_ms=100)
    case.log().send(LEVER, every(0.1), P)
    assert case.outcome() == expected("not-exercised")
    untimed(case)
    assert case.outcome() == SHOWN


def test_a_counter_counts_without_times(tmp_path):
    for step, outcome in ((1, SHOWN), (0, missing("counter-frozen"))):
        case = Case(tmp_path).role("reverse", "body LeverStatus Gear", active=["R"], counter="Turn")
        case.item().need("reverse")
        frames = [f"{'01' if i == 7 else '00'}{step * i % 16:02X}0000" for i in range(101)]
        untimed(case, frames)
        assert case.outcome() == outcome


def test_marks_of_a_capture_without_times_are_not_used_and_that_is_said(tmp_path):
    case = lever_case(tmp_path)
    log = untimed(case, during(7.0, 8.0, R, P)).mark("reverse", 2.0, 5.0)
    assert case.outcome() == SHOWN
    assert any(
        "mark" in warning_text(warning) and log.name in warning_text(warning)
        for warning in case.plan().warnings
    )
    log.is_timed = True
    assert case.outcome() == missing("no-answer")


def test_with_times_elsewhere_and_marks_here_there_is_no_mark(tmp_path):
    case = lever_case(tmp_path, evidence="answers")
    untimed(case).mark("reverse", 2.0, 5.0)
    case.log().send(LEVER, every(0.1), GEARS)
    assert case.outcome() == expected("no-mark")


def test_no_made_up_time_stands_in_the_plan(tmp_path):
    case = lever_case(tmp_path, evidence="present")
    case.log().send(LEVER, every(0.1), GEARS).is_timed = False
    plan = case.plan()
    assert plan.captures[0].seconds == 0
    text = " ".join(netcheck.plan_text(plan).split())
    assert "moves: how often is not known, on can0" in text
    assert "log0.log can0: body, 404 frames without time stamps" in text


def test_no_load_comes_of_made_up_times(tmp_path):
    """At a frame a millisecond the bus would be full."""
    case = lever_case(tmp_path, evidence="present")
    case.bitrate = 10_000
    case.items[0].supply("door.ajar", message_id=0x050, period_ms=1000, length=8)
    case.log().send(LEVER, every(0.1), GEARS).is_timed = False
    assert conflicts(case) == {"part": []}
    assert str(case.plan().verdict) == "go"
