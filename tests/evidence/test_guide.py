"""The guide, driven by hand-made chunks: what it takes for an answer, and which marks it dares to make."""

from __future__ import annotations

from dataclasses import replace

import can
import pytest

from netcheck.capture._wire_lines import columns
from netcheck.evidence import ExerciseStep, GuidePhase, Result, observe, window
from netcheck.evidence._state_periods import StateMeter
from tests.evidence.guided import (
    BRAKE_STEP,
    HOLD,
    MOVE,
    REVERSE,
    REVERSE_WATCH,
    Bench,
    S,
)


def test_a_role_answers_when_it_takes_the_state_and_leaves_it():
    bench = Bench(REVERSE)
    assert bench.run(20) == []
    assert bench.guide.phase is GuidePhase.WAIT
    assert bench.run(30, lever=1) == []
    assert bench.guide.phase is GuidePhase.HOLD
    assert bench.guide.held_ns(bench.now) == 3 * S
    assert bench.run(20, lever=0) == [Result.ANSWERED]
    assert bench.guide.phase is GuidePhase.OVER
    assert bench.marks() == [("reverse-engaged", "active", 2.0, 4.9)]
    assert bench.guide.unprompted() == ()


def test_the_mark_of_an_answer_is_answered_by_the_rules_of_the_plan(tmp_path):
    bench = Bench(REVERSE)
    bench.run(20)
    bench.run(30, lever=1)
    bench.run(20, lever=0)
    (made,) = bench.guide.marks(1000 * S, bench.now)
    found = window(made.mark, "key", REVERSE_WATCH)
    assert found is not None

    class Stream(list):
        file, channels, skipped, warnings, has_times = "a.log", ("can0",), 0, (), True

    seen = observe(Stream([bench.capture()]), [REVERSE_WATCH], [(found,)]).channels[0].observations[0]
    assert seen.marks[0].is_answered
    assert seen.outside.frames == 0


def test_nothing_is_asked_in_the_quiet_time():
    bench = Bench(REVERSE, quiet=50)
    bench.run(10, lever=1)
    assert bench.guide.current is None
    bench.run(39, lever=0)
    assert bench.guide.phase is GuidePhase.QUIET
    bench.run(2)
    assert bench.guide.current is REVERSE
    bench.run(20, lever=1)
    assert bench.run(20, lever=0) == [Result.ANSWERED]
    (unprompted,) = bench.guide.unprompted()
    assert [(each.first_ns, each.last_ns) for each in unprompted.periods] == [
        (1000 * S, 1000 * S + 9 * S // 10)
    ]
    assert unprompted.during == ()


def test_one_frame_is_no_answer():
    bench = Bench(REVERSE)
    bench.run(20)
    bench.run(1, lever=1)
    assert bench.run(30, lever=0) == []
    assert bench.marks() == []


def test_no_value_is_no_state():
    bench = Bench(REVERSE)
    bench.run(20, lever=15)
    assert bench.guide.phase is GuidePhase.WAIT
    meter = bench.guide.meter(REVERSE)
    assert meter is not None
    assert meter.reading is not None
    assert (meter.reading.label, meter.reading.is_valid) == ("none", False)
    assert meter.frames == 20


def test_a_role_in_its_state_must_leave_it_first():
    bench = Bench(REVERSE)
    bench.run(20, lever=1)
    assert bench.guide.phase is GuidePhase.RELEASE
    bench.run(10, lever=0)
    assert bench.guide.phase is GuidePhase.WAIT
    bench.run(20, lever=1)
    assert bench.run(20, lever=0) == [Result.ANSWERED]
    assert bench.marks() == [("reverse-engaged", "active", 3.0, 4.9)]
    (unprompted,) = bench.guide.unprompted()
    bench.guide.confirm(unprompted)
    assert bench.marks()[0] == ("reverse-engaged", "active", 0.0, 1.9)
    assert bench.guide.unprompted() == ()


def test_a_role_that_stays_in_its_state_goes_on_and_its_mark_grows():
    bench = Bench(REVERSE, BRAKE_STEP)
    bench.run(20)
    assert bench.run(130, lever=1) == [Result.ANSWERED]
    bench.run(20)
    bench.guide.stop(bench.now)
    assert bench.marks() == [("reverse-engaged", "active", 2.0, 16.9)]
    assert [outcome.result for outcome in bench.guide.outcomes] == [Result.ANSWERED, Result.OPEN]


def test_done_without_an_answer_is_a_mark_that_says_so():
    bench = Bench(REVERSE)
    bench.run(40)
    assert bench.guide.done(bench.now) is None
    assert bench.guide.phase is GuidePhase.UNANSWERED
    bench.run(5)
    outcome = bench.guide.insist(bench.now)
    assert outcome is not None
    assert outcome.result is Result.NO_ANSWER
    bench.run(10)
    assert bench.marks() == [("reverse-engaged", "active", 0.1, 4.0)]


def test_done_at_once_is_a_slip_of_the_finger():
    bench = Bench(REVERSE)
    bench.run(2)
    assert bench.guide.done(bench.now) is None
    assert bench.guide.current is REVERSE


def test_done_while_it_stood_in_the_state_gives_no_mark():
    bench = Bench(REVERSE)
    bench.run(40, lever=1)
    outcome = bench.guide.done(bench.now)
    assert outcome is not None
    assert outcome.result is Result.STOOD
    assert bench.marks() == []


@pytest.mark.parametrize("call", ["skip", "timeout"])
def test_skipped_and_late_exercises_have_no_mark(call):
    bench = Bench(REVERSE, timeout=50)
    bench.run(30)
    if call == "skip":
        outcome = bench.guide.skip(bench.now)
        assert outcome is not None
        assert outcome.result is Result.SKIPPED
    else:
        assert bench.run(30) == [Result.TIMED_OUT]
    assert bench.marks() == []


def test_what_another_exercise_brings_along_is_confirmed_by_a_person_only():
    """Reverse needs a foot on the brake; the brake has an exercise of its own."""
    bench = Bench(BRAKE_STEP, REVERSE)
    bench.run(10)
    bench.run(10, brake=1)
    assert bench.run(20, brake=0) == [Result.ANSWERED]
    bench.run(5, brake=1)
    bench.run(20, lever=1)
    bench.run(5, lever=0)
    assert bench.run(20, brake=0) == [Result.ANSWERED]
    (unprompted,) = bench.guide.unprompted()
    assert (unprompted.step.role, unprompted.during, unprompted.too_many) == (
        "brake-pedal",
        ("reverse-engaged",),
        False,
    )
    before = bench.marks()
    bench.guide.confirm(unprompted)
    assert [mark for mark in bench.marks() if mark not in before] == [("brake-pedal", "active", 4.0, 6.9)]


def test_a_role_that_moves_by_itself_is_not_to_be_confirmed():
    bench = Bench(REVERSE, quiet=200)
    for _ in range(25):
        bench.run(3, lever=1)
        bench.run(3, lever=0)
    bench.run(60)
    bench.run(10, lever=1)
    bench.run(20, lever=0)
    (unprompted,) = bench.guide.unprompted()
    assert unprompted.too_many


def test_movement_is_enough_where_no_state_is_asked_for():
    bench = Bench(MOVE)
    assert bench.run(20) == []
    assert bench.run(5, speed=20) == []
    assert bench.guide.phase is GuidePhase.HOLD
    assert bench.run(115, speed=30) == []
    assert bench.run(10) == [Result.MOVED]  # 12 s without a change: it need not go back
    assert bench.marks() == []


def test_what_wanders_in_the_quiet_time_is_no_movement():
    bench = Bench(MOVE, quiet=40)
    for step in range(20):
        bench.run(2, speed=50 + step % 3)
    for step in range(30):
        assert bench.run(2, speed=50 + step % 3) == []
    assert bench.guide.phase is GuidePhase.WAIT
    bench.run(10, speed=60)
    assert bench.guide.phase is GuidePhase.HOLD
    assert bench.run(50, speed=51) == [Result.MOVED]


def test_values_outside_the_limits_are_no_movement():
    bench = Bench(MOVE)
    bench.run(20)
    assert bench.run(40, speed=250) == []
    assert bench.guide.phase is GuidePhase.WAIT


def test_a_range_is_marked_with_what_a_person_read():
    bench = Bench(HOLD)
    bench.run(20)
    bench.run(20, speed=20)
    assert bench.guide.done(bench.now) is None
    assert bench.guide.phase is GuidePhase.STEADY
    bench.run(35)
    assert bench.guide.phase is GuidePhase.ASK
    outcome = bench.guide.limits(15, 25, bench.now)
    assert outcome is not None
    assert outcome.result is Result.RANGE_MARKED
    assert bench.marks() == [("vehicle-speed", (15.0, 25.0), 4.0, 7.0)]


def test_others_that_move_are_shown():
    bench = Bench(REVERSE, BRAKE_STEP)
    bench.run(20)
    bench.run(3, brake=1)
    assert [meter.watch.role for meter in bench.guide.movers(bench.now)] == ["brake-pedal"]
    bench.run(25)
    assert bench.guide.movers(bench.now) == ()


def test_a_role_that_the_dbc_lacks_waits_for_a_person():
    bench = Bench(ExerciseStep("horn", "sound the horn", "active", "state", False, None))
    bench.run(20)
    outcome = bench.guide.done(bench.now)
    assert outcome is not None
    assert outcome.result is Result.NO_ANSWER
    assert bench.marks() == []


def test_a_mark_after_the_last_frame_is_none():
    bench = Bench(REVERSE)
    bench.run(10)
    last = bench.now
    bench.tenth += 50
    bench.guide.advance(bench.now)
    bench.guide.skip(bench.now)
    assert bench.guide.marks(1000 * S, last) == ()


@pytest.mark.parametrize("size", [1, 2, 7, 100])
def test_stretches_do_not_depend_on_the_chunks(size):
    levers = [0, 1, 1, 0, 0, 1, 15, 1, 1, 0, 1] * 9
    messages = [
        can.Message(i / 10, 0x123, is_extended_id=False, data=bytes([lever, 0]))
        for i, lever in enumerate(levers)
    ]
    meter = StateMeter(REVERSE_WATCH, "active")
    for begin in range(0, len(messages), size):
        chunk = columns(messages[begin : begin + size], "can0", "a.log")
        meter.add(chunk, chunk.can_id.nonzero()[0])
    expected: list[list[int]] = []
    was = False
    for i, lever in enumerate(levers):
        if lever == 1:
            if was:
                expected[-1][1] = i
            else:
                expected.append([i, i])
        if lever != 15:
            was = lever == 1
    assert [[each.first_ns // (S // 10), each.last_ns // (S // 10)] for each in meter.periods] == expected


def test_where_movement_is_enough_no_mark_is_made():
    bench = Bench(replace(REVERSE, is_marked=False))
    bench.run(5, lever=1)
    bench.run(20, lever=0)
    bench.run(20, lever=1)
    assert bench.run(20, lever=0) == [Result.ANSWERED]
    assert bench.marks() == []
    assert bench.guide.unprompted() == ()
