"""What the guide waits for: the second half of an exercise, a person's word, a network that fell silent."""

from __future__ import annotations

from dataclasses import replace

import can
import pytest

from netcheck.capture._wire_lines import columns
from netcheck.evidence import SILENT_NS, GuidePhase, MarkOrigin, Result, Silence, SilenceWatch
from tests.evidence.guided import BRAKE_STEP, MOVE, REVERSE, Bench, S

MOVES = replace(REVERSE, wants="", is_marked=False)  # a role with active states that only has to move


@pytest.mark.parametrize("at_first", [0, 1])
def test_an_exercise_with_a_second_half_is_waited_for(at_first: int) -> None:
    """Ignition off for 10 seconds, then on for 5, then off: off at first, or left on by one before."""
    bench = Bench(MOVES, BRAKE_STEP)
    bench.run(20, lever=at_first)
    assert bench.run(100, lever=0) == []
    assert bench.run(50, lever=1) == []
    assert bench.guide.current is MOVES
    results = bench.run(45, lever=0)
    assert results == ([Result.MOVED] if at_first == 0 else [])
    assert results + bench.run(90) == [Result.MOVED]  # not back where it was on at first: still for 12 s
    assert bench.guide.current is BRAKE_STEP


def test_a_value_is_back_when_it_is_what_it_was_but_for_its_noise() -> None:
    """Drive off, hold a speed, stop."""
    bench = Bench(MOVE, quiet=40)
    for step in range(20):
        bench.run(2, speed=step % 2)
    bench.run(5)
    bench.run(10, speed=20)
    assert bench.run(60, speed=40) == []  # held: no change, and not back
    assert bench.run(60, speed=1) == [Result.MOVED]


def test_a_value_that_never_rests_is_over_after_a_minute() -> None:
    bench = Bench(MOVE)
    bench.run(2)
    results = [each for step in range(300) for each in bench.run(2, speed=10 + step % 7 * 5)]
    assert results == [Result.MOVED]
    assert bench.tenth >= 600


def test_a_second_press_belongs_to_the_exercise() -> None:
    bench = Bench(REVERSE, BRAKE_STEP)
    bench.run(20)
    assert bench.run(10, lever=1) + bench.run(15, lever=0) + bench.run(10, lever=1) == []
    assert bench.run(20, lever=0) == [Result.ANSWERED]
    assert [mark[2:] for mark in bench.marks()] == [(2.0, 2.9), (4.5, 5.4)]


def asked(bench: Bench) -> None:
    """An exercise that a person called done, and nothing answered."""
    bench.run(20)
    assert bench.guide.done(bench.now) is None
    assert bench.guide.phase is GuidePhase.UNANSWERED


def test_one_key_is_no_verdict() -> None:
    """Enter once too often: no outcome, no mark, whatever is pressed again."""
    bench = Bench(REVERSE)
    asked(bench)
    bench.run(50)
    assert bench.guide.done(bench.now) is None
    assert (bench.guide.phase, bench.guide.outcomes, bench.marks()) == (GuidePhase.UNANSWERED, [], [])


def test_an_answer_after_all_takes_the_question_back() -> None:
    bench = Bench(REVERSE)
    asked(bench)
    bench.run(20, lever=1)
    assert bench.guide.phase is GuidePhase.HOLD
    assert bench.guide.insist(bench.now) is None
    assert bench.run(20, lever=0) == [Result.ANSWERED]
    assert [(mark.origin, mark.mark.from_) for mark in bench.guide.marks(1000 * S, bench.now)] == [
        (MarkOrigin.ANSWERED, 2.0)
    ]


def test_done_again_counts_from_then_on() -> None:
    bench = Bench(REVERSE)
    asked(bench)
    bench.guide.again(bench.now)
    assert bench.guide.phase is GuidePhase.WAIT
    assert bench.guide.outcomes == []
    asked(bench)
    outcome = bench.guide.insist(bench.now)
    assert outcome is not None
    assert (outcome.result, outcome.asked_ns) == (Result.NO_ANSWER, 1002 * S)
    bench.run(1)
    assert bench.marks() == [("reverse-engaged", "active", 2.0, 4.0)]


def test_skipped_after_the_question_there_is_no_mark() -> None:
    bench = Bench(REVERSE)
    asked(bench)
    outcome = bench.guide.skip(bench.now)
    assert outcome is not None
    assert outcome.result is Result.SKIPPED
    assert bench.marks() == []


def test_nothing_to_insist_on_or_to_repeat() -> None:
    bench = Bench(REVERSE)
    bench.run(20)
    bench.guide.again(bench.now)
    assert bench.guide.insist(bench.now) is None
    assert bench.guide.phase is GuidePhase.WAIT


def test_a_movement_that_did_not_come_is_asked_about_too() -> None:
    bench = Bench(MOVE)
    asked(bench)
    outcome = bench.guide.insist(bench.now)
    assert outcome is not None
    assert outcome.result is Result.NO_ANSWER
    assert bench.marks() == []


def test_when_a_silence_falls_into_the_state_the_mark_ends_with_the_frames() -> None:
    """Nobody knows what the role was meanwhile; what comes afterwards is a mark of its own."""
    bench = Bench(REVERSE)
    bench.run(20)
    bench.run(20, lever=1)
    for _ in range(150):
        bench.tenth += 1
        assert bench.guide.advance(bench.now) is None
    bench.run(20, lever=1)
    assert bench.run(20, lever=0) == [Result.ANSWERED]
    assert [mark[2:] for mark in bench.marks()] == [(2.0, 3.9), (19.0, 20.9)]


def test_what_came_while_nobody_was_asked_is_told_apart() -> None:
    bench = Bench(BRAKE_STEP, REVERSE, quiet=30)
    bench.run(10, brake=1)
    bench.run(25, brake=0)
    bench.run(10, brake=1)
    assert bench.run(20, brake=0) == [Result.ANSWERED]
    bench.run(10, brake=1)
    bench.run(10, brake=0)
    bench.guide.stop(bench.now)
    (unprompted,) = bench.guide.unprompted()
    assert (unprompted.hands_off, unprompted.during) == (1, ("reverse-engaged",))
    assert len(unprompted.periods) == 2


def frames(*seconds: float, error: bool = False) -> list[can.Message]:
    return [can.Message(at, 0x123, is_extended_id=False, is_error_frame=error) for at in seconds]


@pytest.mark.parametrize("size", [1, 2, 100])
def test_silences_are_the_times_without_a_frame(size: int) -> None:
    messages = [*frames(10.0, 11.0, 13.9), *frames(15.0, 16.0, error=True), *frames(20.0, 20.5, 60.5)]
    watch = SilenceWatch()
    assert watch.until(100 * S) == ()
    for begin in range(0, len(messages), size):
        watch.take(columns(messages[begin : begin + size], "can0", "a.log"))
    found = (Silence(13_900_000_000, 20 * S), Silence(20_500_000_000, 60_500_000_000))
    assert watch.until(61 * S) == found
    assert watch.until(60_500_000_000 + SILENT_NS) == (*found, Silence(60_500_000_000, 63_500_000_000))
