"""Did the role do what the technician did, and only then? A person with a watch is half a second off.

The lever comes every 0.1 s, so a mark is judged from 0.6 s after its start to 0.5 s before its end, and
reaches from 0.5 s before its start to 0.6 s after its end.
"""

from __future__ import annotations

import pytest

import netcheck
from tests.acceptance.cases import (
    LAMPS,
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

P, R, N, NONE, ODD = "00000000", "01000000", "02000000", "0F000000", "09000000"
NO_ANSWER = missing("no-answer")
SOME = expected("some-answers")
UNASKED = expected("moves-unasked")


def asked(folder, evidence="answers"):
    return lever_case(folder, evidence=evidence)


def at(times, inside, outside=P):
    """Data that are ``inside`` at these very times."""
    return lambda time: inside if time in times else outside


def test_the_active_state_inside_every_mark_and_not_outside_answers(tmp_path):
    case = asked(tmp_path)
    case.log().send(LEVER, every(0.1), during(2.0, 5.0, R, P)).mark("reverse", 2.0, 5.0)
    assert case.outcome() == SHOWN
    assert case.need().evidence == "answers"


def test_a_need_for_answers_without_a_mark_is_no_mark(tmp_path):
    case = asked(tmp_path)
    case.log().send(LEVER, every(0.1), during(2.0, 5.0, R, P))
    assert case.outcome() == expected("no-mark")
    assert case.need().evidence == "moves"


def test_a_mark_of_another_role_is_no_mark_of_this_one(tmp_path):
    case = asked(tmp_path).role("drive-engaged", "body LeverStatus Gear", active=["D"])
    case.log().send(LEVER, every(0.1), during(2.0, 5.0, R, P)).mark("drive-engaged", 2.0, 5.0)
    assert case.outcome() == expected("no-mark")


def test_a_mark_that_the_role_slept_through_is_no_answer(tmp_path):
    case = asked(tmp_path)
    case.log().send(LEVER, every(0.1), P).mark("reverse", 2.0, 5.0)
    assert case.outcome() == NO_ANSWER
    assert case.need().evidence == "present"


def test_one_mark_of_several_without_an_answer_leaves_some_answers(tmp_path):
    case = asked(tmp_path)
    log = case.log().send(LEVER, every(0.1), during(2.0, 5.0, R, P)).mark("reverse", 2.0, 5.0)
    assert case.outcome() == SHOWN
    log.mark("reverse", 7.0, 8.0)
    assert case.outcome() == SOME
    assert case.need().evidence == "moves"


def test_no_mark_of_several_answered_is_no_answer(tmp_path):
    case = asked(tmp_path)
    log = case.log().send(LEVER, every(0.1), during(9.0, 9.5, R, P))
    log.mark("reverse", 2.0, 5.0).mark("reverse", 6.0, 7.0)
    assert case.outcome() == NO_ANSWER


def test_a_single_mark_answered_in_part_has_some_answers(tmp_path):
    case = asked(tmp_path)
    case.log().send(LEVER, every(0.1), during(2.0, 3.0, R, P)).mark("reverse", 2.0, 5.0)
    assert case.outcome() == SOME


def test_every_mark_of_every_capture_must_be_answered(tmp_path):
    case = asked(tmp_path)
    case.log().send(LEVER, every(0.1), during(2.0, 5.0, R, P)).mark("reverse", 2.0, 5.0)
    case.log().send(LEVER, every(0.1), during(6.0, 7.0, R, P)).mark("reverse", 6.0, 7.0)
    assert case.outcome() == SHOWN
    case.log().send(LEVER, every(0.1), P).mark("reverse", 2.0, 5.0)
    assert case.outcome() == SOME


def test_marks_are_seconds_of_their_own_capture(tmp_path):
    case = asked(tmp_path)
    case.log().send(LEVER, every(0.1), P)
    log = case.log().send(LEVER, every(0.1), during(2.0, 5.0, R, P)).mark("reverse", 2.0, 5.0)
    log.epoch += 3600
    assert case.outcome() == SHOWN


# What a watch allows ------------------------------------------------------------------------------


@pytest.mark.parametrize("start", [0.9, 2.0, 3.3, 4.1])
@pytest.mark.parametrize(("late", "outcome"), [(0.0, SHOWN), (0.000001, SOME)])
def test_a_role_must_have_the_state_half_a_second_and_a_gap_after_the_start(tmp_path, start, late, outcome):
    edge = round(start + 0.6 + late, 6)
    case = asked(tmp_path)
    log = case.log().send(LEVER, [t for t in every(0.1) if t < edge], P)
    log.send(LEVER, [edge], R).send(LEVER, [t for t in every(0.1) if edge < t < start + 3], R)
    log.send(LEVER, [t for t in every(0.1) if t >= start + 3], P).mark("reverse", start, start + 3)
    assert case.outcome() == outcome


@pytest.mark.parametrize("end", [4.3, 5.0, 6.7, 7.9])
@pytest.mark.parametrize(("late", "outcome"), [(0.000001, SHOWN), (0.0, SOME)])
def test_the_state_must_hold_to_half_a_second_before_the_end(tmp_path, end, late, outcome):
    edge = round(end - 0.5 + late, 6)
    case = asked(tmp_path)
    log = case.log().send(LEVER, [t for t in every(0.1) if t < edge], during(2.0, edge, R, P))
    log.send(LEVER, [edge], P).send(LEVER, [t for t in every(0.1) if t > edge], P).mark("reverse", 2.0, end)
    assert case.outcome() == outcome


@pytest.mark.parametrize("off", [-0.5, -0.35, -0.2, 0.2, 0.35, 0.5])
def test_a_watch_that_is_off_by_up_to_half_a_second_changes_nothing(tmp_path, off):
    case = asked(tmp_path)
    log = case.log().send(LEVER, every(0.1), lambda t: R if 2 <= t <= 4 or 6 <= t <= 8 else P)
    log.mark("reverse", 2.0 + off, 4.0 + off).mark("reverse", 6.0 - off, 8.0 - off)
    assert case.outcome() == SHOWN
    assert case.need().evidence == "answers"


def test_a_slow_message_has_a_gap_of_its_own_more(tmp_path):
    # every 0.8 s: judged from 1.3 s after the start on, and the state may be seen 1.3 s after the end
    case = asked(tmp_path)
    log = case.log().send(LEVER, every(0.8), during(2.8, 5.9, R, P)).mark("reverse", 1.9, 4.5)
    assert case.outcome() == SHOWN
    log.marks[0]["from"] = 1.4
    assert case.outcome() == SOME


def test_a_gap_counts_up_to_two_seconds(tmp_path):
    # every 2.5 s: a mark from 1.5 s is judged from 4 s on, though the gap would be longer
    for first, outcome in ((3.9, SHOWN), (4.1, SOME)):
        case = asked(tmp_path)
        log = case.log(None)
        for lamp in LAMPS:
            log.send(lamp, every(0.1, end=20.0), "00")
        times = [round(first + 2.5 * n, 6) for n in range(-1, 7)]
        log.send(LEVER, times, during(first, 9.9, R, P)).mark("reverse", 1.5, 9.5)
        assert case.outcome() == outcome


def test_a_role_has_its_last_value_until_the_next_frame(tmp_path):
    # the only frames are at 2.0 and 8.0 s, the mark lies between them
    case = asked(tmp_path)
    log = case.log().send(LEVER, [0.5, 2.0, 8.0], during(2.0, 2.0, R, P)).mark("reverse", 2.0, 7.5)
    assert case.outcome() == SHOWN
    log.without(4.0, 6.0)  # asleep in between
    assert case.outcome() == SOME


def test_one_frame_without_the_state_well_inside_a_mark_is_only_part_of_an_answer(tmp_path):
    for moment, outcome in ((3.5, SOME), (2.4, SHOWN), (4.7, SHOWN)):
        case = asked(tmp_path)
        log = case.log().send(LEVER, every(0.1), lambda t, late=moment: R if 2 <= t <= 5 and t != late else P)
        log.mark("reverse", 2.0, 5.0)
        assert case.outcome() == outcome


@pytest.mark.parametrize("value", [NONE, ODD], ids=["no value", "outside the limits"])
def test_frames_without_a_valid_value_inside_a_mark_are_passed_over(tmp_path, value):
    case = Case(tmp_path).role("ajar", "body DoorStatus Open", active=["open"], not_available=[15])
    case.item().need("ajar", evidence="answers")
    frames = [("01" if 2 <= t <= 5 else "00") + "00" for t in every(0.02)]
    frames[175] = value[:4]  # 3.5 s; one value of 501 is outside the limits 0 to 3
    case.log().send(0x120, every(0.02), frames).mark("ajar", 2.0, 5.0)
    assert case.outcome() == SHOWN


@pytest.mark.parametrize("value", [NONE, None], ids=["no value", "no frame"])
def test_a_mark_before_the_first_valid_frame_is_not_answered(tmp_path, value):
    case = asked(tmp_path)
    log = case.log().send(LEVER, every(0.1, start=8.0), during(9.0, 9.9, R, P)).mark("reverse", 9.0, 9.9)
    assert case.outcome() == SHOWN
    log.mark("reverse", 3.0, 6.0)
    if value:
        log.send(LEVER, every(0.1, 3.0, 6.0), value)
    assert case.outcome() == SOME


@pytest.mark.parametrize(("length", "outcome"), [(1.3, SOME), (1.299999, SHOWN)])
def test_from_two_tenths_on_that_are_left_a_mark_is_a_long_one(tmp_path, length, outcome):
    # R only at 2.2 s: inside the reach of a short mark, but gone at 2.6 s
    case = asked(tmp_path)
    case.log().send(LEVER, every(0.1), at({2.2}, R)).mark("reverse", 2.0, round(2.0 + length, 6))
    assert case.outcome() == outcome


@pytest.mark.parametrize("start", [0.7, 1.1, 3.3, 7.7])
def test_two_tenths_are_two_tenths_wherever_the_mark_starts(tmp_path, start):
    case = asked(tmp_path)
    log = case.log().send(LEVER, every(0.1), at({round(start + 0.2, 6)}, R))
    log.mark("reverse", start, round(start + 1.3, 6))
    assert case.outcome() == SOME


@pytest.mark.parametrize(
    ("moment", "outcome"),
    [(1.499999, NO_ANSWER), (1.5, SHOWN), (2.0, SHOWN), (2.25, SHOWN), (2.8, SHOWN), (2.95, NO_ANSWER)],
)
def test_a_short_mark_is_answered_by_one_frame_within_reach(tmp_path, moment, outcome):
    case = asked(tmp_path)
    log = case.log().send(LEVER, every(0.1, start=0.05), P).send(LEVER, [moment], R)
    log.mark("reverse", 2.0, 2.25)
    assert case.outcome() == outcome


@pytest.mark.parametrize("start", [0.8, 1.3, 2.6, 3.3, 6.9])
@pytest.mark.parametrize("edge", [-0.5, 0.9])
def test_the_reach_of_a_short_mark_includes_its_ends(tmp_path, start, edge):
    # at whole tenths, so that the gap is 0.1 s
    case = asked(tmp_path)
    moment = round(start + edge, 6)
    case.log().send(LEVER, every(0.1), at({moment}, R)).mark("reverse", start, round(start + 0.3, 6))
    assert case.outcome() == SHOWN


# Inactive -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("inside", "outcome"),
    [(P, SHOWN), (N, SHOWN), (R, NO_ANSWER), (NONE, SHOWN)],
    ids=["P", "N", "R", "none"],
)
def test_an_inactive_mark_asks_for_any_valid_value_that_is_not_active(tmp_path, inside, outcome):
    # no value: that of the last valid frame, P, stands
    case = asked(tmp_path)
    gears = lambda t: inside if 2 <= t <= 6 else R if t > 8 or inside == R else P  # noqa: E731
    log = case.log().send(LEVER, every(0.1), gears).mark("reverse", 2.0, 6.0, "inactive")
    if inside != R:
        log.mark("reverse", 8.0, 10.0)
    assert case.outcome() == outcome


def test_an_inactive_mark_does_not_excuse_the_active_state(tmp_path):
    case = asked(tmp_path)
    log = case.log().send(LEVER, every(0.1), during(7.0, 7.5, R, P)).mark("reverse", 2.0, 6.0, "inactive")
    assert case.outcome() == UNASKED
    log.mark("reverse", 7.0, 7.5)
    assert case.outcome() == SHOWN


def test_a_role_active_in_the_midst_of_an_inactive_mark_answers_it_in_part(tmp_path):
    case = asked(tmp_path)
    log = case.log().send(LEVER, every(0.1), during(4.0, 4.2, R, P)).mark("reverse", 2.0, 6.0, "inactive")
    log.mark("reverse", 4.0, 4.2)
    assert case.outcome() == SOME


# Outside ------------------------------------------------------------------------------------------


def test_the_active_state_outside_all_marks_is_unasked(tmp_path):
    case = asked(tmp_path)
    log = case.log().send(LEVER, every(0.1), lambda t: R if 2 <= t <= 5 or t == 7.0 else P)
    log.mark("reverse", 2.0, 5.0)
    assert case.outcome() == UNASKED
    assert case.need().evidence == "moves"
    log.mark("reverse", 6.9, 7.1)
    assert case.outcome() == SHOWN


def test_a_capture_without_marks_of_the_role_is_not_judged_for_that(tmp_path):
    case = asked(tmp_path).role("turning", "body LeverStatus Turn")
    case.log().send(LEVER, every(0.1), during(2.0, 5.0, R, P)).mark("reverse", 2.0, 5.0)
    log = case.log().send(LEVER, every(0.1), at({7.0}, R)).mark("turning", 2.0, 5.0, 0)
    assert case.outcome() == SHOWN
    log.mark("reverse", 2.0, 5.0, "P")
    assert case.outcome() == UNASKED


@pytest.mark.parametrize(
    ("moment", "outcome"), [(1.499999, UNASKED), (1.5, SHOWN), (5.6, SHOWN), (5.600001, UNASKED)]
)
def test_shortly_before_and_after_a_mark_is_not_outside(tmp_path, moment, outcome):
    case = asked(tmp_path)
    log = case.log().send(LEVER, [t for t in every(0.1) if t != round(moment, 1)], during(2.0, 5.0, R, P))
    log.send(LEVER, [moment], R).mark("reverse", 2.0, 5.0)
    assert case.outcome() == outcome


def test_a_mark_by_an_active_label_calls_for_the_active_state(tmp_path):
    case = asked(tmp_path)
    case.log().send(LEVER, every(0.1), during(2.0, 5.5, R, P)).mark("reverse", 2.0, 5.0, "R")
    assert case.outcome() == SHOWN


def test_a_mark_by_another_label_does_not_excuse_the_active_state(tmp_path):
    case = asked(tmp_path)
    gears = lambda t: N if 2 <= t <= 5 else R if 5 < t <= 5.3 else P  # noqa: E731
    case.log().send(LEVER, every(0.1), gears).mark("reverse", 2.0, 5.0, "N")
    assert case.outcome() == UNASKED


def test_another_label_outside_its_marks_is_not_judged(tmp_path):
    case = asked(tmp_path)
    gears = lambda t: N if 2 <= t <= 5 or t > 8 else R if 6 <= t <= 7 else P  # noqa: E731
    log = case.log().send(LEVER, every(0.1), gears)
    log.mark("reverse", 2.0, 5.0, "N").mark("reverse", 6.0, 7.0)
    assert case.outcome() == SHOWN


def test_a_range_is_in_physical_units_and_includes_its_ends(tmp_path):
    case = Case(tmp_path).role("vehicle-speed", "body SpeedStatus Speed")
    case.item().need("vehicle-speed", evidence="answers")
    slow, fast, out = "64000000", "C8000000", "C9000000"  # 10.0, 20.0 and 20.1 km/h
    speeds = lambda t: "00000000" if t < 2 else slow if t < 3 else fast if t < 7 else out  # noqa: E731
    log = case.log().send(SPEED, every(0.1), speeds).mark("vehicle-speed", 2.0, 6.0, between=[10, 20])
    assert case.outcome() == SHOWN
    log.mark("vehicle-speed", 8.0, 9.5, between=[10, 20])
    assert case.outcome() == SOME
    log.marks.pop(0)
    assert case.outcome() == NO_ANSWER


def test_a_range_is_not_judged_outside_its_marks(tmp_path):
    case = Case(tmp_path).role("vehicle-speed", "body SpeedStatus Speed")
    case.item().need("vehicle-speed", evidence="answers")
    log = case.log().send(SPEED, every(0.1), during(2.0, 9.0, "64000000", "00000000"))
    log.mark("vehicle-speed", 2.0, 5.0, between=[5, 20])
    assert case.outcome() == SHOWN


# Needs that ask for less --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("evidence", "outcome"),
    [("answers", NO_ANSWER), ("moves", NO_ANSWER), ("present", NO_ANSWER), ("defined", SHOWN)],
)
def test_no_answer_is_judged_for_all_needs_but_defined(tmp_path, evidence, outcome):
    case = asked(tmp_path, evidence)
    case.log().send(LEVER, every(0.1), during(8.0, 9.0, R, P)).mark("reverse", 2.0, 5.0)
    assert case.outcome() == outcome


@pytest.mark.parametrize(
    ("evidence", "outcome"), [("answers", SOME), ("moves", SOME), ("present", SOME), ("defined", SHOWN)]
)
def test_some_answers_are_judged_for_all_needs_but_defined(tmp_path, evidence, outcome):
    case = asked(tmp_path, evidence)
    case.log().send(LEVER, every(0.1), during(2.0, 3.0, R, P)).mark("reverse", 2.0, 5.0)
    assert case.outcome() == outcome


@pytest.mark.parametrize(
    ("evidence", "outcome"),
    [("answers", UNASKED), ("moves", UNASKED), ("present", UNASKED), ("defined", SHOWN)],
)
def test_moves_unasked_is_judged_for_all_needs_but_defined(tmp_path, evidence, outcome):
    case = asked(tmp_path, evidence)
    log = case.log().send(LEVER, every(0.1), lambda t: R if 2 <= t <= 5 or t == 7.0 else P)
    log.mark("reverse", 2.0, 5.0)
    assert case.outcome() == outcome


@pytest.mark.parametrize("evidence", ["moves", "present", "defined"])
def test_without_marks_the_active_state_is_nowhere_unasked(tmp_path, evidence):
    case = asked(tmp_path, evidence)
    case.log().send(LEVER, every(0.1), during(2.0, 3.0, R, P))
    assert case.outcome() == SHOWN


# Where a mark lies --------------------------------------------------------------------------------


def test_a_mark_partly_outside_its_capture_is_judged_on_what_lies_inside(tmp_path):
    case = asked(tmp_path)
    log = case.log().send(LEVER, every(0.1), during(8.0, 10.0, R, P)).mark("reverse", 8.0, 12.0)
    assert case.outcome() == SHOWN
    log.send(LEVER, [9.95], P)
    assert case.outcome() == SOME


def test_a_mark_may_begin_before_its_capture(tmp_path):
    case = asked(tmp_path)
    log = case.log().send(LEVER, every(0.1), during(0.0, 2.0, R, P)).mark("reverse", -3.0, 2.0)
    assert case.outcome() == SHOWN
    log.send(LEVER, [0.05], P)
    assert case.outcome() == SOME


@pytest.mark.parametrize("span", [(11.0, 12.0), (-3.0, -1.0)])
def test_a_mark_wholly_outside_its_capture_is_an_error(tmp_path, span):
    case = asked(tmp_path)
    case.log().send(LEVER, every(0.1), during(2.0, 5.0, R, P)).mark("reverse", *span)
    with pytest.raises(netcheck.InputError, match="mark"):
        case.plan()


def test_marks_beside_the_capture_count_with_those_of_the_job(tmp_path):
    case = asked(tmp_path)
    log = case.log().send(LEVER, every(0.1), lambda t: R if 2 <= t <= 5 or 7 <= t <= 8 else P)
    log.mark("reverse", 2.0, 5.0)
    assert case.outcome() == UNASKED
    mark = '[[mark]]\nrole = "reverse"\nstate = "active"\nfrom = 7.0\nto = 8.0\n'
    beside = log.name.replace(".log", ".marks.toml")
    (tmp_path / beside).write_text(f'kind = "marks"\nformat = 1\n{mark}', encoding="utf-8")
    assert case.outcome() == SHOWN
