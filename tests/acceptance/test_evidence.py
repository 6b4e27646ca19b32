"""How well a role is shown, and whether that is as much as the need asks for."""

from __future__ import annotations

import pytest

from tests.acceptance.cases import (
    LEVER,
    SHOWN,
    SPEED,
    Case,
    during,
    every,
    expected,
    lever_case,
    missing,
)

P, R, N, NONE = "00000000", "01000000", "02000000", "0F000000"
STILL = expected("not-exercised")


def test_a_role_that_the_vehicle_file_does_not_map_has_no_evidence(tmp_path):
    case = Case(tmp_path)
    case.item().need("reverse", evidence="defined")
    assert case.outcome() == missing("undefined-role")
    assert case.need().evidence == "none"


def test_a_signal_that_the_dbc_lacks_has_no_evidence(tmp_path):
    case = Case(tmp_path).role("reverse", "body LeverStatus Nope")
    case.item().need("reverse", evidence="defined")
    assert case.outcome() == missing("undefined-signal")
    assert case.need().evidence == "none"


def test_a_need_for_defined_is_shown_without_a_capture(tmp_path):
    case = lever_case(tmp_path, evidence="defined")
    assert case.outcome() == SHOWN
    assert case.need().evidence == "defined"


def test_a_need_for_defined_takes_a_wrongly_declared_channel_for_no_capture(tmp_path):
    case = lever_case(tmp_path, evidence="defined")
    case.log("drive", channels={"can0": "body"})
    assert case.outcome() == SHOWN


@pytest.mark.parametrize("evidence", ["present", "moves", "answers"])
def test_every_other_need_is_only_expected_without_a_capture(tmp_path, evidence):
    assert lever_case(tmp_path, evidence=evidence).outcome() == expected("no-capture")


@pytest.mark.parametrize(
    ("frames", "outcome"),
    [
        (None, STILL),
        ("", missing("short-frame")),
        (NONE, missing("not-available")),
        (P, SHOWN),
    ],
)
def test_with_a_capture_a_need_for_defined_is_judged(tmp_path, frames, outcome):
    case = lever_case(tmp_path, evidence="defined")
    log = case.log()
    if frames is not None:
        log.send(LEVER, every(0.1), frames)
    assert case.outcome() == outcome


def test_with_a_capture_a_need_for_defined_is_judged_by_its_rate(tmp_path):
    case = lever_case(tmp_path, evidence="defined", max_gap_ms=90)
    case.log().send(LEVER, every(0.1), P)
    assert case.outcome() == missing("too-slow")


def test_with_a_capture_a_need_for_defined_is_judged_by_its_range(tmp_path):
    case = Case(tmp_path).role("vehicle-speed", "body SpeedStatus Speed")
    case.item().need("vehicle-speed", evidence="defined")
    case.log().send(SPEED, every(0.1), "FFFF0000")
    assert case.outcome() == expected("out-of-range")


@pytest.mark.parametrize(
    ("evidence", "outcome"),
    [("present", SHOWN), ("moves", STILL), ("answers", expected("no-mark"))],
)
def test_a_role_that_never_moves_is_present(tmp_path, evidence, outcome):
    case = lever_case(tmp_path, evidence=evidence)
    case.log().send(LEVER, every(0.1), P)
    assert case.outcome() == outcome
    assert case.need().evidence == "present"


def test_a_need_asks_for_movement_unless_it_says_otherwise(tmp_path):
    case = lever_case(tmp_path)
    case.log().send(LEVER, every(0.1), P)
    assert case.outcome() == STILL


@pytest.mark.parametrize(
    ("gears", "outcome"),
    [
        ((P, R), SHOWN),
        ((P, N), STILL),  # two values, neither of them active
        ((R, R), STILL),  # active all the time
        ((R, NONE), STILL),
        ((P, NONE), STILL),
    ],
)
def test_a_role_with_active_states_moves_between_active_and_inactive(tmp_path, gears, outcome):
    case = lever_case(tmp_path)
    case.log().send(LEVER, every(0.1), during(2.0, 5.0, *gears))
    assert case.outcome() == outcome


@pytest.mark.parametrize(
    ("gears", "outcome"), [((P, R), SHOWN), ((P, N), SHOWN), ((R, R), STILL), ((P, NONE), STILL)]
)
def test_a_role_without_active_states_moves_between_any_two_values(tmp_path, gears, outcome):
    case = Case(tmp_path).role("gear", "body LeverStatus Gear", not_available=[15])
    case.item().need("gear")
    case.log().send(LEVER, every(0.1), during(2.0, 5.0, *gears))
    assert case.outcome() == outcome


def test_one_frame_is_movement_enough(tmp_path):
    case = lever_case(tmp_path)
    case.log().send(LEVER, every(0.1), during(5.0, 5.0, R, P))
    assert case.outcome() == SHOWN
    assert case.need().evidence == "moves"


def test_active_states_may_be_several_and_raw_numbers(tmp_path):
    case = Case(tmp_path).role("moving-gear", "body LeverStatus Gear", active=[1, "D"])
    case.item().need("moving-gear", evidence="answers")
    gears = lambda t: R if 2 <= t < 3 else "03000000" if 3 <= t <= 5 else P  # noqa: E731
    case.log().send(LEVER, every(0.1), gears).mark("moving-gear", 2.0, 5.0)
    assert case.outcome() == SHOWN


def test_movement_counts_over_all_captures(tmp_path):
    case = lever_case(tmp_path)
    case.log().send(LEVER, every(0.1), P)
    case.log().send(LEVER, every(0.1), R)
    assert case.outcome() == SHOWN


@pytest.mark.parametrize("evidence", ["present", "moves"])
def test_more_evidence_than_asked_is_still_told(tmp_path, evidence):
    case = lever_case(tmp_path, evidence=evidence)
    case.log().send(LEVER, every(0.1), during(2.0, 5.0, R, P)).mark("reverse", 2.0, 5.0)
    assert case.need().evidence == "answers"
