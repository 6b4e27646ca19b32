"""The guide and roles that hang, contradict themselves or move by themselves, and clocks that are set."""

from __future__ import annotations

import pytest

from netcheck.evidence import GuidePhase, Result, observe, window
from tests.evidence.guided import (
    BRAKE_STEP,
    REVERSE,
    REVERSE_WATCH,
    Bench,
    S,
)


def test_a_role_that_hangs_in_its_state_is_asked_about():
    """A mark does not grow for ever: that the role was left there is for a person to say."""
    bench = Bench(REVERSE, BRAKE_STEP, quiet=10)
    bench.run(20)
    assert bench.run(130, lever=1) == [Result.ANSWERED]  # 12 s in the state: it need not be let go
    bench.run(200)
    bench.guide.stop(bench.now)
    assert bench.marks() == [("reverse-engaged", "active", 2.0, 26.0)]
    (unprompted,) = bench.guide.unprompted()
    assert [(each.first_ns, each.last_ns) for each in unprompted.periods] == [
        (1026 * S, 1034 * S + 9 * S // 10)
    ]
    assert (unprompted.during, unprompted.hands_off) == (("brake-pedal",), 0)  # though it was never answered
    bench.guide.confirm(unprompted)
    assert bench.guide.unprompted() == ()
    assert bench.marks()[1] == ("reverse-engaged", "active", 26.0, 34.9)


@pytest.mark.parametrize("ends", ["by itself", "done"])
def test_two_senders_that_contradict_each_other_are_no_answer(ends):
    """Every third frame says something else: marks of a frame or two would each look like an answer."""
    bench = Bench(REVERSE)
    bench.run(20)
    results = []
    for _ in range(10):
        results += bench.run(2, lever=1) + bench.run(1, lever=0)
    if ends == "done":
        outcome = bench.guide.done(bench.now)
        assert outcome is not None
        results.append(outcome.result)
    results += bench.run(20, lever=0)
    assert results == [Result.CONTRADICTED]
    assert bench.marks() == [("reverse-engaged", "active", 2.0, 4.8)]
    (made,) = bench.guide.marks(1000 * S, bench.now)
    found = window(made.mark, "key", REVERSE_WATCH)
    assert found is not None

    class Stream(list):
        file, channels, skipped, warnings, has_times = "a.log", ("can0",), 0, (), True

    seen = observe(Stream([bench.capture()]), [REVERSE_WATCH], [(found,)]).channels[0].observations[0]
    assert not seen.marks[0].is_answered


def test_a_lamp_that_flashes_answers():
    """1.5 Hz, as direction indicators do (UN Regulation No. 48 has 90 flashes a minute, 30 either way)."""
    bench = Bench(REVERSE)
    bench.run(20)
    for _ in range(5):
        assert bench.run(4, lever=1) + bench.run(3, lever=0) == []
    assert bench.run(20) == [Result.ANSWERED]
    assert len(bench.marks()) == 5


def test_a_contact_that_bounces_answers():
    bench = Bench(REVERSE)
    bench.run(20)
    for lever in (1, 0, 1, 1, 1, 1, 1, 1, 1, 1, 0, 1):
        bench.run(1, lever=lever)
    assert bench.run(20, lever=0) == [Result.ANSWERED]


def test_stillness_afterwards_lasts_until_the_role_was_looked_at_long_enough_unprompted():
    bench = Bench(REVERSE, BRAKE_STEP, quiet=20)
    bench.run(20)
    assert bench.guide.stillness_left_ns(bench.now) == 0
    bench.run(20, lever=1)
    assert bench.run(20, lever=0) == [Result.ANSWERED]
    bench.guide.skip(bench.now)  # a brake that nobody presses: nothing to look for
    assert bench.guide.phase is GuidePhase.OVER
    asked = 59 - 20  # tenths, from the prompt to 2 s after the last frame in the state
    assert bench.guide.stillness_left_ns(bench.now) == (8 * 20 - (bench.tenth - asked)) * S // 10
    bench.run(bench.guide.stillness_left_ns(bench.now) // (S // 10) - 1)
    assert bench.guide.stillness_left_ns(bench.now) == S // 10
    bench.run(1)
    assert bench.guide.stillness_left_ns(bench.now) == 0


def test_stillness_is_short_where_no_role_answered_or_one_moved_by_itself():
    bench = Bench(REVERSE, quiet=20)
    bench.run(5, lever=1)
    bench.run(25, lever=0)
    bench.run(10, lever=1)
    assert bench.run(20, lever=0) == [Result.ANSWERED]
    assert 0 < bench.guide.stillness_left_ns(bench.now) <= 2 * S


def test_an_outcome_says_when_it_was_asked_for():
    bench = Bench(REVERSE)
    bench.run(20)
    bench.run(10, lever=1)
    bench.run(20, lever=0)
    (outcome,) = bench.guide.outcomes
    assert (outcome.asked_ns, outcome.from_ns) == (1000 * S + S // 10, 1002 * S)


def test_a_clock_that_is_set_back_takes_back_what_lies_in_the_time_that_comes_twice():
    bench = Bench(BRAKE_STEP, REVERSE)
    bench.run(10)
    bench.run(10, brake=1)
    assert bench.run(20, brake=0) == [Result.ANSWERED]
    bench.run(10, lever=1)
    assert bench.run(20, lever=0) == [Result.ANSWERED]
    assert [mark[0] for mark in bench.marks()] == ["brake-pedal", "reverse-engaged"]
    assert bench.guide.set_back_ns == 0
    bench.tenth -= 20
    bench.run(20, brake=1)
    bench.guide.stop(bench.now)
    assert bench.guide.set_back_ns == 19 * S // 10
    assert bench.marks() == [("brake-pedal", "active", 1.0, 1.9)]
    assert bench.guide.unprompted() == ()


def test_frames_a_little_out_of_order_are_no_other_clock():
    bench = Bench(REVERSE)
    bench.run(20)
    bench.tenth -= 2
    bench.run(20)
    assert bench.guide.set_back_ns == 0
