"""Does the message come, hold the signal, and carry values that mean something?"""

from __future__ import annotations

import pytest

from tests.acceptance.cases import (
    DOOR,
    LEVER,
    MENU,
    SHOWN,
    SPEED,
    TEMP,
    Case,
    during,
    every,
    expected,
    lever_case,
    missing,
)

GEARS = during(2.0, 5.0, "01000000", "00000000")


def speed_case(folder, **more):
    """One item on ``body`` that needs the speed (16 bit, 0.1 km/h, limits 0 to 250 km/h)."""
    case = Case(folder).role("vehicle-speed", "body SpeedStatus Speed", **more)
    case.item().need("vehicle-speed")
    return case


def km_h(speed):
    return round(speed * 10).to_bytes(2, "little").hex() + "0000"


def test_a_message_that_never_came_is_absent_where_it_was_marked(tmp_path):
    case = lever_case(tmp_path)
    case.log().send(DOOR, every(0.1), "0000").mark("reverse", 2.0, 5.0)
    assert case.outcome() == missing("message-absent")
    assert case.need().evidence == "defined"


def test_a_message_that_came_once_is_there(tmp_path):
    case = lever_case(tmp_path, evidence="present")
    case.log().send(LEVER, [4.0], "00000000")
    assert case.outcome() == SHOWN


@pytest.mark.parametrize(
    "frame",
    ["100#R", "100#R4", "20000100#0000000000000000", "00000100#01000000"],
    ids=["remote", "remote with a length", "error", "29-bit id"],
)
def test_frames_that_are_not_the_message_leave_it_absent(tmp_path, frame):
    case = lever_case(tmp_path, evidence="present")
    log = case.log()
    log.rows += [(time, "can0", frame) for time in every(0.1)]
    log.mark("reverse", 2.0, 5.0)
    assert case.outcome() == missing("message-absent")


def test_more_than_half_of_the_frames_too_short_is_short_frame(tmp_path):
    case = speed_case(tmp_path)
    case.log().send(SPEED, every(0.1), ["64"] * 51 + [km_h(5)] * 25 + [km_h(6)] * 25)
    assert case.outcome() == missing("short-frame")
    assert case.need().evidence == "defined"


def test_exactly_half_of_the_frames_too_short_is_not(tmp_path):
    case = speed_case(tmp_path)
    case.log().send(SPEED, every(0.1, end=9.9), ["64"] * 50 + [km_h(5)] * 25 + [km_h(6)] * 25)
    assert case.outcome() == SHOWN


def test_a_frame_shorter_than_its_message_is_long_enough_when_it_holds_the_signal(tmp_path):
    case = speed_case(tmp_path)
    case.log().send(SPEED, every(0.1), lambda time: km_h(time)[:4])
    assert case.outcome() == SHOWN


def test_frames_that_are_too_short_do_not_count_for_the_rate(tmp_path):
    case = Case(tmp_path).role("vehicle-speed", "body SpeedStatus Speed")
    case.item().need("vehicle-speed", max_gap_ms=100)
    case.log().send(SPEED, every(0.1), km_h)
    assert case.outcome() == SHOWN
    case.logs.clear()
    case.log().send(SPEED, every(0.1), lambda time: "64" if time in {5.0, 7.0} else km_h(time))
    assert case.outcome() == missing("too-slow")


def test_only_no_value_is_not_available(tmp_path):
    case = lever_case(tmp_path, evidence="present")
    case.log().send(LEVER, every(0.1), "0F000000")
    assert case.outcome() == missing("not-available")
    assert case.need().evidence == "defined"


def test_one_value_among_no_value_is_available(tmp_path):
    case = lever_case(tmp_path, evidence="present")
    case.log().send(LEVER, every(0.1), during(4.0, 4.0, "00000000", "0F000000"))
    assert case.outcome() == SHOWN


def test_without_a_no_value_in_the_vehicle_file_every_value_is_one(tmp_path):
    case = Case(tmp_path).role("reverse", "body LeverStatus Gear", active=["R"])
    case.item().need("reverse", evidence="present")
    case.log().send(LEVER, every(0.1), "0F000000")
    assert case.outcome() == SHOWN


def test_a_page_that_never_came_is_not_available_where_it_was_marked(tmp_path):
    case = Case(tmp_path).role("volume", "body MenuStatus Volume")
    case.item().need("volume", evidence="present")
    case.log().send(MENU, every(0.1), "02070000").mark("volume", 2.0, 5.0, between=[1, 9])
    assert case.outcome() == missing("not-available")


def test_a_page_that_came_once_is_available(tmp_path):
    case = Case(tmp_path).role("volume", "body MenuStatus Volume")
    case.item().need("volume", evidence="present")
    case.log().send(MENU, every(0.1), during(3.0, 3.0, "01070000", "02070000"))
    assert case.outcome() == SHOWN


@pytest.mark.parametrize(("wrong", "outcome"), [(1, SHOWN), (2, expected("out-of-range"))])
def test_over_one_percent_of_values_outside_the_limits_is_out_of_range(tmp_path, wrong, outcome):
    case = speed_case(tmp_path)
    speeds = [km_h(251)] * wrong + [km_h(20 + i % 50) for i in range(100 - wrong)]
    case.log().send(SPEED, every(0.1, end=9.9), speeds)
    assert case.outcome() == outcome


def test_limits_belong_to_the_range(tmp_path):
    case = speed_case(tmp_path)
    case.log().send(SPEED, every(0.1), during(2.0, 5.0, km_h(250), km_h(0)))
    assert case.outcome() == SHOWN


def test_one_step_above_the_limit_does_not(tmp_path):
    case = speed_case(tmp_path)
    case.log().send(SPEED, every(0.1), during(2.0, 5.0, km_h(250.1), km_h(0)))
    assert case.outcome() == expected("out-of-range")


def test_limits_are_physical_and_may_be_negative(tmp_path):
    case = Case(tmp_path).role("heat", "body ClimateStatus Heat")
    case.item().need("heat")
    log = case.log().send(TEMP, every(0.1), during(2.0, 5.0, "00000000", "78000000"))  # -40 and 80 degrees
    assert case.outcome() == SHOWN
    log.send(TEMP, [5.55, 5.65, 5.75], "79000000")  # 81 degrees, 3 of 104
    assert case.outcome() == expected("out-of-range")


def test_a_limit_that_binary_fractions_miss_still_belongs_to_the_range(tmp_path):
    case = Case(tmp_path).role("level", "body ClimateStatus Level")
    case.item().need("level")
    case.log().send(TEMP, every(0.1), during(2.0, 5.0, "00030000", "00000000"))  # 3 * 0.1, limit 0.3
    assert case.outcome() == SHOWN


def test_zero_to_zero_is_no_limit(tmp_path):
    case = Case(tmp_path).role("free", "body ClimateStatus Free")
    case.item().need("free")
    case.log().send(TEMP, every(0.1), during(2.0, 5.0, "0000FF00", "00000100"))
    assert case.outcome() == SHOWN


def test_no_value_is_not_out_of_range(tmp_path):
    case = speed_case(tmp_path, not_available=[0xFFFF])
    case.log().send(SPEED, every(0.1), lambda time: "FFFF0000" if time < 5 else km_h(time))
    assert case.outcome() == SHOWN


def test_no_value_is_not_among_the_values_of_which_one_percent_may_be_wrong(tmp_path):
    case = speed_case(tmp_path, not_available=[0xFFFF])
    speeds = ["FFFF0000"] * 50 + [km_h(251)] + [km_h(20 + i) for i in range(49)]  # 1 of 50, not of 100
    case.log().send(SPEED, every(0.1, end=9.9), speeds)
    assert case.outcome() == expected("out-of-range")


def test_a_value_outside_the_limits_is_no_movement(tmp_path):
    case = speed_case(tmp_path)
    case.log().send(SPEED, every(0.1, end=9.9), [km_h(300)] + [km_h(20)] * 99)
    assert case.outcome() == expected("not-exercised")
