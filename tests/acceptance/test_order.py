"""Where several reasons hold, the first along the way is told and the text names the rest.

Role, signal, network, capture, message, length, available, range, time and rate, counter, marks, movement.
"""

from __future__ import annotations

from netcheck.report import advice, need_text
from tests.acceptance.cases import LAMPS, LEVER, SPEED, Case, during, every, expected, lever_case, missing

P, R, NONE = "00000000", "01000000", "0F000000"


def told(case):
    """Status and reason, and how many further reasons are named."""
    need = case.need()
    assert all(reason in need_text(need) for reason in need.also)
    assert str(advice(need)) in need_text(need)
    assert str(advice(need)) or need.status == "shown"
    return (str(need.status), str(need.reason)), len(need.also)


def speed_need(folder, **need):
    case = Case(folder).role("vehicle-speed", "body SpeedStatus Speed", not_available=[0xFFFF])
    case.item().need("vehicle-speed", **need)
    return case


def counted_lever(folder, **need):
    case = Case(folder).role(
        "reverse", "body LeverStatus Gear", active=["R"], not_available=[15], counter="Turn"
    )
    case.item().need("reverse", **need)
    return case


def test_signal_comes_before_capture(tmp_path):
    case = Case(tmp_path).role("reverse", "body LeverStatus Nope")
    case.item().need("reverse")
    assert case.outcome() == missing("undefined-signal")


def test_network_comes_before_capture(tmp_path):
    case = Case(tmp_path).role("reverse", "drive EngineStatus Revs")
    case.item().need("reverse")
    assert case.outcome() == missing("other-network")


def test_length_comes_before_availability(tmp_path):
    case = speed_need(tmp_path)
    case.log().send(SPEED, every(0.1), ["00"] * 60 + ["FFFF0000"] * 41)
    assert told(case)[0] == missing("short-frame")


def test_availability_comes_before_rate(tmp_path):
    case = speed_need(tmp_path, max_gap_ms=50)
    case.log().send(SPEED, every(0.1), "FFFF0000")
    assert told(case)[0] == missing("not-available")
    assert told(case)[1] >= 1


def test_range_comes_before_rate(tmp_path):
    case = speed_need(tmp_path, max_gap_ms=50)
    case.log().send(SPEED, every(0.1), lambda t: "FEFF0000" if t > 9 else "64000000" if t > 8 else P)
    assert told(case) == (expected("out-of-range"), 1)


def test_range_hides_an_answer_that_did_not_come(tmp_path):
    case = speed_need(tmp_path, evidence="answers")
    log = case.log().send(SPEED, every(0.1), lambda t: "FEFF0000" if t > 9 else "64000000" if t > 8 else P)
    log.mark("vehicle-speed", 2.0, 5.0, between=[10, 20])
    assert told(case) == (expected("out-of-range"), 1)


def test_rate_comes_before_counter(tmp_path):
    case = counted_lever(tmp_path, max_gap_ms=50)
    case.log().send(LEVER, every(0.1), during(2.0, 5.0, R, P))
    assert told(case)[0] == missing("too-slow")
    assert told(case)[1] >= 1


def test_counter_jumps_hide_an_answer_that_did_not_come(tmp_path):
    case = counted_lever(tmp_path, evidence="answers")
    frames = [f"00{5 * i // 2 % 16:02X}0000" for i in range(101)]  # by 2 and by 3 in turn: no copy does that
    frames[80] = "01" + frames[80][2:]
    case.log().send(LEVER, every(0.1), frames).mark("reverse", 2.0, 5.0).mark("reverse", 7.9, 8.1)
    assert told(case) == (expected("counter-jumps"), 1)


def test_no_answer_comes_before_moves_unasked(tmp_path):
    case = lever_case(tmp_path, evidence="answers")
    log = case.log().send(LEVER, every(0.1), during(7.0, 8.0, R, P)).mark("reverse", 2.0, 5.0)
    assert told(case) == (missing("no-answer"), 1)
    log.mark("reverse", 7.0, 8.0)
    assert told(case) == (expected("some-answers"), 0)


def test_some_answers_come_before_moves_unasked(tmp_path):
    case = lever_case(tmp_path, evidence="answers")
    log = case.log().send(LEVER, every(0.1), lambda t: R if 4 <= t <= 5 or t == 9 else P)
    log.mark("reverse", 2.0, 5.0)
    assert told(case) == (expected("some-answers"), 1)


def test_range_comes_before_time(tmp_path):
    case = speed_need(tmp_path, max_gap_ms=50)
    log = case.log().send(SPEED, every(0.1), lambda t: "FEFF0000" if t > 9 else "64000000" if t > 8 else P)
    log.is_timed = False
    assert told(case) == (expected("out-of-range"), 1)


def test_time_comes_before_counter(tmp_path):
    case = counted_lever(tmp_path, max_gap_ms=50)
    case.log().send(LEVER, every(0.1), during(2.0, 5.0, R, P)).is_timed = False
    assert told(case) == (expected("no-time"), 1)


def test_too_slow_comes_before_a_delay_that_was_not_shown(tmp_path):
    case = lever_case(tmp_path, max_gap_ms=50, max_delay_ms=50)
    case.log().send(LEVER, every(0.1), during(2.0, 5.0, R, P))
    assert told(case)[0] == missing("too-slow")


def test_a_delay_that_was_not_shown_comes_before_counter(tmp_path):
    case = counted_lever(tmp_path, max_delay_ms=50)
    case.log().send(LEVER, every(0.1), during(2.0, 5.0, R, P))
    assert told(case) == (expected("delay-not-shown"), 1)


def test_capture_comes_before_message(tmp_path):
    case = lever_case(tmp_path)
    log = case.log(None).mark("reverse", 2.0, 5.0)
    for number in range(0x501, 0x50A):
        log.send(number, every(0.1), "00")
    for lamp in LAMPS:
        log.send(lamp, every(0.1), "00")
    assert told(case)[0] == expected("doubtful-network")


def test_no_mark_comes_before_movement(tmp_path):
    case = lever_case(tmp_path, evidence="answers")
    case.log().send(LEVER, every(0.1), P)
    assert told(case) == (expected("no-mark"), 1)


def test_no_answer_comes_before_movement(tmp_path):
    case = lever_case(tmp_path)
    case.log().send(LEVER, every(0.1), P).mark("reverse", 2.0, 5.0)
    assert told(case)[0] == missing("no-answer")


def test_availability_hides_marks(tmp_path):
    case = lever_case(tmp_path, evidence="answers")
    case.log().send(LEVER, every(0.1), NONE).mark("reverse", 2.0, 5.0)
    assert told(case)[0] == missing("not-available")


def test_a_need_that_is_shown_names_no_further_reason(tmp_path):
    case = lever_case(tmp_path)
    case.log().send(LEVER, every(0.1), during(2.0, 5.0, R, P))
    assert told(case) == (("shown", "ok"), 0)
