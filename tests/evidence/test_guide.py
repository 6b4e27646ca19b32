"""The guide, driven by hand-made chunks: what it takes for an answer, and which marks it dares to make."""

from __future__ import annotations

from dataclasses import replace

import can
import pytest

from netcheck.capture import Capture
from netcheck.capture._wire_lines import columns
from netcheck.database import Message, Signal
from netcheck.evidence import Act, Guide, Phase, Result, Watch, observe, window
from netcheck.evidence._stretches import StateMeter

S = 1_000_000_000
LEVER = Signal("Lever", 0, 4, False, False, False, 1.0, 0.0, None, None, "", {0: "P", 1: "R", 15: "none"})
BRAKE = Signal("Brake", 4, 1, False, False, False, 1.0, 0.0, None, None)
SPEED = Signal("Speed", 8, 8, False, False, False, 1.0, 0.0, 0.0, 200.0, "km/h")
STATUS = Message("Status", 0x123, False, False, False, 2, (), 100.0, (LEVER, BRAKE, SPEED))
REVERSE_WATCH = Watch("reverse-engaged", "comfort", STATUS, LEVER, (1,), (15,))
BRAKE_WATCH = Watch("brake-pedal", "comfort", STATUS, BRAKE, (1,))
SPEED_WATCH = Watch("vehicle-speed", "comfort", STATUS, SPEED)
REVERSE = Act("reverse-engaged", "select reverse", "active", "state", False, REVERSE_WATCH)
BRAKE_ACT = Act("brake-pedal", "press the brake", "active", "state", False, BRAKE_WATCH)
MOVE = Act("vehicle-speed", "drive", "active", "", False, SPEED_WATCH)
HOLD = Act("vehicle-speed", "drive at a steady speed", "active", "range", False, SPEED_WATCH)


class Bench:
    """A guide with a message that comes every 0.1 s; everything in tenths of a second."""

    def __init__(self, *acts: Act, quiet: int = 1, timeout: int | None = None) -> None:
        ns = None if timeout is None else timeout * S // 10
        self.guide = Guide(acts, quiet_ns=quiet * S // 10, timeout_ns=ns)
        self.tenth = 0
        self.messages: list[can.Message] = []
        self.lever = self.brake = self.speed = 0
        self.guide.begin(self.now)

    @property
    def now(self) -> int:
        return (1000 * S) + self.tenth * S // 10

    def run(self, tenths: int, **values: int) -> list[Result]:
        """So long with these values; the outcomes that came."""
        vars(self).update(values)
        results = []
        for _ in range(tenths):
            data = bytes([self.lever | self.brake << 4, self.speed])
            message = can.Message(self.now / 1e9, 0x123, is_extended_id=False, data=data)
            self.messages.append(message)
            self.guide.take(columns([message], "can0", "a.log"))
            outcome = self.guide.step(self.now)
            if outcome is not None:
                results.append(outcome.result)
            self.tenth += 1
        return results

    def capture(self) -> Capture:
        return columns(self.messages, "can0", "a.log")

    def marks(self) -> list[tuple[str, object, float, float]]:
        made = self.guide.marks(1000 * S, self.now)
        return [
            (each.mark.role, each.mark.state or each.mark.between, each.mark.from_, each.mark.to)
            for each in made
        ]


def test_a_role_answers_when_it_takes_the_state_and_leaves_it():
    bench = Bench(REVERSE)
    assert bench.run(20) == []
    assert bench.guide.phase is Phase.WAIT
    assert bench.run(30, lever=1) == []
    assert bench.guide.phase is Phase.HOLD
    assert bench.guide.held_ns(bench.now) == 3 * S
    assert bench.run(10, lever=0) == [Result.ANSWERED]
    assert bench.guide.phase is Phase.OVER
    assert bench.marks() == [("reverse-engaged", "active", 2.0, 4.9)]
    assert bench.guide.unasked() == ()


def test_the_mark_of_an_answer_is_answered_by_the_rules_of_the_plan(tmp_path):
    bench = Bench(REVERSE)
    bench.run(20)
    bench.run(30, lever=1)
    bench.run(10, lever=0)
    (made,) = bench.guide.marks(1000 * S, bench.now)
    found = window(made.mark, "key", "label", REVERSE_WATCH)
    assert found is not None

    class Stream(list):
        file, channels, skipped, warnings = "a.log", ("can0",), 0, ()

    seen = observe(Stream([bench.capture()]), [REVERSE_WATCH], [(found,)]).channels[0].observations[0]
    assert seen.marks[0].is_answered
    assert seen.outside == 0


def test_nothing_is_asked_in_the_quiet_time():
    bench = Bench(REVERSE, quiet=50)
    bench.run(10, lever=1)
    assert bench.guide.current is None
    bench.run(39, lever=0)
    assert bench.guide.phase is Phase.QUIET
    bench.run(2)
    assert bench.guide.current is REVERSE
    bench.run(20, lever=1)
    assert bench.run(10, lever=0) == [Result.ANSWERED]
    (unasked,) = bench.guide.unasked()
    assert [(each.first_ns, each.last_ns) for each in unasked.stretches] == [
        (1000 * S, 1000 * S + 9 * S // 10)
    ]
    assert unasked.during == ()


def test_one_frame_is_no_answer():
    bench = Bench(REVERSE)
    bench.run(20)
    bench.run(1, lever=1)
    assert bench.run(30, lever=0) == []
    assert bench.marks() == []


def test_no_value_is_no_state():
    bench = Bench(REVERSE)
    bench.run(20, lever=15)
    assert bench.guide.phase is Phase.WAIT
    meter = bench.guide.meter(REVERSE)
    assert meter is not None
    assert meter.reading is not None
    assert (meter.reading.label, meter.reading.is_valid) == ("none", False)
    assert meter.frames == 20


def test_a_role_in_its_state_must_leave_it_first():
    bench = Bench(REVERSE)
    bench.run(20, lever=1)
    assert bench.guide.phase is Phase.RELEASE
    bench.run(10, lever=0)
    assert bench.guide.phase is Phase.WAIT
    bench.run(20, lever=1)
    assert bench.run(10, lever=0) == [Result.ANSWERED]
    assert bench.marks() == [("reverse-engaged", "active", 3.0, 4.9)]
    (unasked,) = bench.guide.unasked()
    bench.guide.confirm(unasked)
    assert bench.marks()[0] == ("reverse-engaged", "active", 0.0, 1.9)
    assert bench.guide.unasked() == ()


def test_a_role_that_stays_in_its_state_goes_on_and_its_mark_grows():
    bench = Bench(REVERSE, BRAKE_ACT)
    bench.run(20)
    assert bench.run(130, lever=1) == [Result.ANSWERED]
    bench.run(20)
    bench.guide.stop(bench.now)
    assert bench.marks() == [("reverse-engaged", "active", 2.0, 16.9)]
    assert [outcome.result for outcome in bench.guide.outcomes] == [Result.ANSWERED, Result.OPEN]


def test_done_without_an_answer_is_a_mark_that_says_so():
    bench = Bench(REVERSE)
    bench.run(40)
    outcome = bench.guide.done(bench.now)
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
    bench = Bench(BRAKE_ACT, REVERSE)
    bench.run(10)
    bench.run(10, brake=1)
    assert bench.run(10, brake=0) == [Result.ANSWERED]
    bench.run(5, brake=1)
    bench.run(20, lever=1)
    bench.run(5, lever=0)
    assert bench.run(20, brake=0) == [Result.ANSWERED]
    (unasked,) = bench.guide.unasked()
    assert (unasked.act.role, unasked.during, unasked.too_many) == (
        "brake-pedal",
        ("reverse-engaged",),
        False,
    )
    before = bench.marks()
    bench.guide.confirm(unasked)
    assert [mark for mark in bench.marks() if mark not in before] == [("brake-pedal", "active", 3.0, 5.9)]


def test_a_role_that_moves_by_itself_is_not_to_be_confirmed():
    bench = Bench(REVERSE, quiet=200)
    for _ in range(25):
        bench.run(3, lever=1)
        bench.run(3, lever=0)
    bench.run(60)
    bench.run(10, lever=1)
    bench.run(10, lever=0)
    (unasked,) = bench.guide.unasked()
    assert unasked.too_many


def test_movement_is_enough_where_no_state_is_asked_for():
    bench = Bench(MOVE)
    assert bench.run(20) == []
    assert bench.run(5, speed=20) == []
    assert bench.guide.phase is Phase.HOLD
    assert bench.run(50, speed=30) == [Result.MOVED]
    assert bench.marks() == []


def test_what_wanders_in_the_quiet_time_is_no_movement():
    bench = Bench(MOVE, quiet=40)
    for step in range(20):
        bench.run(2, speed=50 + step % 3)
    for step in range(30):
        assert bench.run(2, speed=50 + step % 3) == []
    assert bench.guide.phase is Phase.WAIT
    bench.run(10, speed=60)
    assert bench.guide.phase is Phase.HOLD
    assert bench.run(50) == [Result.MOVED]


def test_values_outside_the_limits_are_no_movement():
    bench = Bench(MOVE)
    bench.run(20)
    assert bench.run(40, speed=250) == []
    assert bench.guide.phase is Phase.WAIT


def test_a_range_is_marked_with_what_a_person_read():
    bench = Bench(HOLD)
    bench.run(20)
    bench.run(20, speed=20)
    assert bench.guide.done(bench.now) is None
    assert bench.guide.phase is Phase.STEADY
    bench.run(35)
    assert bench.guide.phase is Phase.ASK
    outcome = bench.guide.limits(15, 25, bench.now)
    assert outcome is not None
    assert outcome.result is Result.NOTED
    assert bench.marks() == [("vehicle-speed", (15.0, 25.0), 4.0, 7.0)]


def test_others_that_move_are_shown():
    bench = Bench(REVERSE, BRAKE_ACT)
    bench.run(20)
    bench.run(3, brake=1)
    assert [meter.watch.role for meter in bench.guide.movers(bench.now)] == ["brake-pedal"]
    bench.run(25)
    assert bench.guide.movers(bench.now) == ()


def test_a_role_that_the_dbc_lacks_waits_for_a_person():
    bench = Bench(Act("horn", "sound the horn", "active", "state", False, None))
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
    bench.guide.step(bench.now)
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
    assert [[each.first_ns // (S // 10), each.last_ns // (S // 10)] for each in meter.stretches] == expected


def test_where_movement_is_enough_no_mark_is_made():
    bench = Bench(replace(REVERSE, is_marked=False))
    bench.run(5, lever=1)
    bench.run(20, lever=0)
    bench.run(20, lever=1)
    assert bench.run(10, lever=0) == [Result.ANSWERED]
    assert bench.marks() == []
    assert bench.guide.unasked() == ()


def test_a_role_that_hangs_in_its_state_is_asked_about():
    """A mark does not grow for ever: that the role was left there is for a person to say."""
    bench = Bench(REVERSE, BRAKE_ACT, quiet=10)
    bench.run(20)
    assert bench.run(130, lever=1) == [Result.ANSWERED]  # 12 s in the state: it need not be let go
    bench.run(200)
    bench.guide.stop(bench.now)
    assert bench.marks() == [("reverse-engaged", "active", 2.0, 26.0)]
    (unasked,) = bench.guide.unasked()
    assert [(each.first_ns, each.last_ns) for each in unasked.stretches] == [
        (1026 * S, 1034 * S + 9 * S // 10)
    ]
    assert unasked.during == ()  # the brake's exercise was not over yet
    bench.guide.confirm(unasked)
    assert bench.guide.unasked() == ()
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
    assert results == [Result.FLICKERED]
    assert bench.marks() == [("reverse-engaged", "active", 2.0, 4.8)]
    (made,) = bench.guide.marks(1000 * S, bench.now)
    found = window(made.mark, "key", "label", REVERSE_WATCH)
    assert found is not None

    class Stream(list):
        file, channels, skipped, warnings = "a.log", ("can0",), 0, ()

    seen = observe(Stream([bench.capture()]), [REVERSE_WATCH], [(found,)]).channels[0].observations[0]
    assert not seen.marks[0].is_answered


def test_a_lamp_that_flashes_answers():
    """1.5 Hz, as direction indicators do (UN Regulation No. 48 has 90 flashes a minute, 30 either way)."""
    bench = Bench(REVERSE)
    bench.run(20)
    for _ in range(5):
        assert bench.run(4, lever=1) + bench.run(3, lever=0) == []
    assert bench.run(10) == [Result.ANSWERED]
    assert len(bench.marks()) == 5


def test_a_contact_that_bounces_answers():
    bench = Bench(REVERSE)
    bench.run(20)
    for lever in (1, 0, 1, 1, 1, 1, 1, 1, 1, 1, 0, 1):
        bench.run(1, lever=lever)
    assert bench.run(10, lever=0) == [Result.ANSWERED]


def test_stillness_afterwards_lasts_until_the_role_was_looked_at_long_enough_unasked():
    bench = Bench(REVERSE, BRAKE_ACT, quiet=20)
    bench.run(20)
    assert bench.guide.stillness_left_ns(bench.now) == 0
    bench.run(20, lever=1)
    assert bench.run(10, lever=0) == [Result.ANSWERED]
    bench.guide.skip(bench.now)  # a brake that nobody presses: nothing to look for
    assert bench.guide.phase is Phase.OVER
    asked = 46 - 20  # tenths, from the prompt to 0.7 s after the last frame in the state
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
    assert bench.run(8, lever=0) == [Result.ANSWERED]
    assert 0 < bench.guide.stillness_left_ns(bench.now) <= 2 * S


def test_an_outcome_says_when_it_was_asked_for():
    bench = Bench(REVERSE)
    bench.run(20)
    bench.run(10, lever=1)
    bench.run(10, lever=0)
    (outcome,) = bench.guide.outcomes
    assert (outcome.asked_ns, outcome.from_ns) == (1000 * S + S // 10, 1002 * S)


def test_a_clock_that_is_set_back_takes_back_what_lies_in_the_time_that_comes_twice():
    bench = Bench(BRAKE_ACT, REVERSE)
    bench.run(10)
    bench.run(10, brake=1)
    assert bench.run(10, brake=0) == [Result.ANSWERED]
    bench.run(10, lever=1)
    assert bench.run(10, lever=0) == [Result.ANSWERED]
    assert [mark[0] for mark in bench.marks()] == ["brake-pedal", "reverse-engaged"]
    assert bench.guide.set_back_ns == 0
    bench.tenth -= 20
    bench.run(20, brake=1)
    bench.guide.stop(bench.now)
    assert bench.guide.set_back_ns == 19 * S // 10
    assert bench.marks() == [("brake-pedal", "active", 1.0, 1.9)]
    assert bench.guide.unasked() == ()


def test_frames_a_little_out_of_order_are_no_other_clock():
    bench = Bench(REVERSE)
    bench.run(20)
    bench.tenth -= 2
    bench.run(20)
    assert bench.guide.set_back_ns == 0
