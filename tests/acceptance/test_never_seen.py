"""A message, or a page, that never came: absent, or only never used?"""

from __future__ import annotations

import pytest

from tests.acceptance.cases import (
    BODY_DBC,
    LAMPS,
    LEVER,
    MENU,
    Case,
    during,
    every,
    expected,
    lever_case,
    missing,
    with_cycle,
)

P, R = "00000000", "01000000"
ABSENT = missing("message-absent")
UNUSED = expected("not-exercised")


def lamps(case, end=10.0, **entry):
    log = case.log(None, **entry)
    for lamp in LAMPS:
        log.send(lamp, every(0.1, end=end), "00")
    return log


@pytest.mark.parametrize("evidence", ["present", "moves", "answers"])
def test_a_message_that_may_be_sent_only_when_used_is_not_exercised(tmp_path, evidence):
    case = lever_case(tmp_path, evidence=evidence)
    lamps(case)
    assert case.outcome() == UNUSED
    assert case.need().evidence == "defined"


@pytest.mark.parametrize("state", ["active", "inactive", "P"])
def test_a_mark_of_the_role_says_that_it_should_have_come(tmp_path, state):
    case = lever_case(tmp_path)
    lamps(case).mark("reverse", 2.0, 5.0, state)
    assert case.outcome() == ABSENT


def test_a_mark_of_another_role_does_not(tmp_path):
    case = lever_case(tmp_path).role("turning", "body LeverStatus Turn")
    lamps(case).mark("turning", 2.0, 5.0, 1)
    assert case.outcome() == UNUSED


def test_a_mark_in_a_capture_of_another_network_does_not(tmp_path):
    case = lever_case(tmp_path)
    lamps(case)
    log = case.log("drive").mark("reverse", 2.0, 5.0)
    assert case.outcome() == UNUSED
    log.marks.clear()
    case.logs[0].mark("reverse", 2.0, 5.0)
    assert case.outcome() == ABSENT


@pytest.mark.parametrize(("end", "outcome"), [(9.9, UNUSED), (10.0, ABSENT)])
def test_ten_cycles_awake_say_that_it_should_have_come(tmp_path, end, outcome):
    case = lever_case(tmp_path)
    case.dbc["body"] = with_cycle(BODY_DBC, LEVER, 1000)
    lamps(case, end)
    assert case.outcome() == outcome


def test_only_the_time_awake_counts(tmp_path):
    case = lever_case(tmp_path)
    case.dbc["body"] = with_cycle(BODY_DBC, LEVER, 1000)
    lamps(case, 12.0).without(3.0, 6.0)
    assert case.outcome() == UNUSED
    lamps(case, 1.0)  # 3 s and 6 s, and 1 s of another capture
    assert case.outcome() == ABSENT


def test_the_cycle_time_of_another_message_says_nothing(tmp_path):
    case = lever_case(tmp_path)
    case.dbc["body"] = with_cycle(BODY_DBC, LAMPS[0], 100)
    lamps(case)
    assert case.outcome() == UNUSED


def test_a_capture_without_times_shows_no_cycles_and_no_marks(tmp_path):
    case = lever_case(tmp_path)
    case.dbc["body"] = with_cycle(BODY_DBC, LEVER, 100)
    log = lamps(case).mark("reverse", 2.0, 5.0)
    log.is_timed = False
    assert case.outcome() == UNUSED
    log.is_timed = True
    assert case.outcome() == ABSENT


def test_a_page_that_never_came_is_judged_likewise(tmp_path):
    case = Case(tmp_path).role("volume", "body MenuStatus Volume")
    case.item().need("volume", evidence="present")
    log = case.log().send(MENU, every(0.1), "02070000")
    assert case.outcome() == UNUSED
    log.mark("volume", 2.0, 5.0, between=[1, 9])
    assert case.outcome() == missing("not-available")
    log.marks.clear()
    case.dbc["body"] = with_cycle(BODY_DBC, MENU, 1000)
    assert case.outcome() == missing("not-available")
    case.dbc["body"] = with_cycle(BODY_DBC, MENU, 1001)
    assert case.outcome() == UNUSED


def test_no_value_in_frames_that_came_is_not_available_without_any_mark(tmp_path):
    case = lever_case(tmp_path)
    case.log().send(LEVER, every(0.1), "0F000000")
    assert case.outcome() == missing("not-available")


def test_locked_comes_first_in_either_case(tmp_path):
    unlock = {"module": "gateway", "field": "stalk", "value": "fitted"}
    case = Case(tmp_path).module("gateway").role("hidden", "body LeverStatus Gear", unlocked_by=unlock)
    case.block("gateway", 0x0600, 1, stalk={"byte": 0, "width": 1, "values": {0: "absent", 1: "fitted"}})
    case.item().need("hidden")
    log = lamps(case)
    assert case.outcome() == ("after-coding", "locked")
    log.mark("hidden", 2.0, 5.0, 1)
    assert case.outcome() == ("after-coding", "locked")
    case.readout("gateway", 0x0600, "01")
    assert case.outcome() == ABSENT


def test_a_message_that_came_in_another_capture_is_seen(tmp_path):
    case = lever_case(tmp_path)
    lamps(case).mark("reverse", 2.0, 5.0)
    case.log().send(LEVER, every(0.1), during(2.0, 5.0, R, P))
    assert case.outcome() == missing("no-answer")
