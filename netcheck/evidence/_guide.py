"""The guide through a recording: exercises in, chunks of frames in, answers and marks out. Pure: no clock.

What a mark may say. The signal alone must not prove itself, so a mark stands only for what a person was
asked to do, or said they did:

- A role *answers* when it takes the state after it was asked for, on two frames at least. The mark is that
  stretch, from the frame that took the state to the last one in it.
- A role that takes and leaves the state faster than a hand can is contradicted: one mark for all of it, so
  that the plan judges every frame in it.
- A mark ends with its exercise, or shortly after: a role that stays in the state for longer was left there,
  which a person has to say, or it hangs.
- "Done" without an answer gives a mark from the prompt on: it was done, and the signal did not follow.
- A role that was in the state all along gives no mark.
- What a role did unasked is never marked by itself: ``unasked`` lists it, and ``confirm`` marks it when a
  person says that it was really so. Before the first exercise comes a quiet time that shows such roles.
- A range is marked with the limits that a person read off the vehicle, never with what the signal says.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

import numpy as np

from netcheck.capture import Capture
from netcheck.database import matching
from netcheck.evidence._notes import ExerciseStep, Key, Notes, ProposedMark, UnpromptedActivity, flickers
from netcheck.evidence._observe import message_key
from netcheck.evidence._state_periods import StateMeter, StatePeriod
from netcheck.roles import Watch

# Our own rules of thumb for the pace of the guide, in ns.
LEAST_FRAMES: Final = 2  # in the state: a single frame may be a disturbance
_SECOND: Final = 1_000_000_000
_SETTLED: Final = 700_000_000  # out of the state this long: the exercise is over
_LONG: Final = 12 * _SECOND  # in the state this long: it need not be let go
_REST: Final = 4 * _SECOND  # without a change this long: a movement is over
_MOVED: Final = 20 * _SECOND  # or moving this long
_LATELY: Final = 2 * _SECOND  # another role that changed so long ago is shown
_STEADY: Final = 3 * _SECOND  # how long a value is held for a range
_LEAST: Final = _SECOND  # "done" sooner after a prompt is a slip of the finger
_BACK: Final = _SECOND // 5  # frames that go back by more show that the clock was set back
_TAIL: Final = 2 * _SECOND  # recorded after the last exercise
_BESIDES: Final = 8  # times the quiet time: how long a role that answered is looked at when nobody asks


class Phase(StrEnum):
    """What the guide waits for."""

    QUIET = "quiet"  # hands off
    RELEASE = "release"  # in the state already: leave it first
    WAIT = "wait"
    HOLD = "hold"  # in the state, or moving
    STEADY = "steady"  # the value is held
    ASK = "ask"  # the limits of the value are to be typed
    OVER = "over"


class Result(StrEnum):
    """What an exercise came to."""

    ANSWERED = "answered"
    MOVED = "moved"
    NOTED = "noted"  # a range, with its limits
    FLICKERED = "flickered"  # took the state and left it again and again, faster than a hand can
    NO_ANSWER = "no-answer"  # done, and the role did not follow
    STOOD = "stood"  # in the state all along
    SKIPPED = "skipped"
    TIMED_OUT = "timed-out"
    OPEN = "open"  # not come to


@dataclass(frozen=True)
class Outcome:
    """An exercise with its result; when it was asked for and answered, in ns of the log."""

    act: ExerciseStep
    result: Result
    from_ns: int | None = None
    to_ns: int | None = None
    asked_ns: int | None = None


_MOST_TO_CONFIRM: Final = 20


class Guide:
    """Walks through the acts. Times are ns of the log; every call that has one says what time it is."""

    def __init__(
        self,
        acts: Sequence[ExerciseStep],
        also: Sequence[Watch] = (),
        *,
        timeout_ns: int | None = None,
        quiet_ns: int = 5 * _SECOND,
    ) -> None:
        """also: roles to follow without an exercise; timeout_ns: an exercise without an answer ends then.

        ``set_back_ns`` is how far the clock of the frames was set back, if it was.
        """
        self.acts = tuple(acts)
        self.outcomes: list[Outcome] = []
        self.phase = Phase.QUIET if self.acts else Phase.OVER
        self._timeout, self._quiet = timeout_ns, quiet_ns
        self._meters: dict[Key, StateMeter] = {}
        for act in self.acts:
            if act.watch is not None:
                state = act.state if act.wants != "range" else None
                self._meters.setdefault(act.key, StateMeter(act.watch, state))
        self._also = [StateMeter(watch, None) for watch in also]
        self._begin_ns = self._since_ns = 0
        self._steady_ns = self._change_ns = self._over_ns = 0
        self._notes = Notes()
        self._latest_ns: int | None = None
        self.set_back_ns = 0

    # what is going on

    @property
    def current(self) -> ExerciseStep | None:
        """The exercise that is being done; None before the first and after the last."""
        if self.phase in {Phase.QUIET, Phase.OVER}:
            return None
        return self.acts[len(self.outcomes)]

    def meter(self, act: ExerciseStep) -> StateMeter | None:
        """What is seen of an act's role."""
        return self._meters.get(act.key)

    def held_ns(self, now_ns: int) -> int:
        """How long the current role has been in its state since it was asked for."""
        act = self.current
        fresh = self._fresh(act) if act is not None else []
        if not fresh:
            return 0
        last = fresh[-1]
        return (max(now_ns, last.last_ns) if last.is_open else last.last_ns) - last.first_ns

    def quiet_left_ns(self, now_ns: int) -> int:
        """How much of the quiet time is to come."""
        return max(self._begin_ns + self._quiet - now_ns, 0) if self.phase is Phase.QUIET else 0

    def stillness_left_ns(self, now_ns: int) -> int:
        """How much of the stillness after the last exercise is to come; 0 before it.

        A role that moves by itself may do so just when it is asked for. So each role that answered is looked
        at for eight times the quiet time while something else, or nothing, is asked for.
        """
        if self.phase is not Phase.OVER:
            return 0
        left = [self._over_ns + _TAIL - now_ns]
        answered = {outcome.act.key for outcome in self.outcomes if outcome.result is Result.ANSWERED}
        moved = {unasked.act.key for unasked in self.unasked()}
        for key in answered - moved:
            meter = self._meters[key]
            if meter.calls_active and self._notes.has(key):
                besides = now_ns - self._begin_ns - self._notes.asked_ns(key)
                left.append(_BESIDES * self._quiet - besides)
        return max(0, *left)

    def movers(self, now_ns: int) -> tuple[StateMeter, ...]:
        """Other roles that changed in the last two seconds."""
        act = self.current
        meters = {meter.watch.role: meter for meter in (*self._meters.values(), *self._also)}
        return tuple(
            meter
            for role, meter in meters.items()
            if (act is None or role != act.role)
            and meter.last_change_ns is not None
            and now_ns - meter.last_change_ns < _LATELY
        )

    # what happens

    def begin(self, now_ns: int) -> None:
        """The recording has begun: hands off, then the first exercise."""
        self._begin_ns = now_ns

    def take(self, chunk: Capture) -> None:
        """Frames that came. Once their clock was set back, no more count: their times mean two things."""
        if self.set_back_ns or self._goes_back(chunk):
            return
        found = {}
        for meter in (*self._meters.values(), *self._also):
            key = message_key(meter.watch.message)
            if key not in found:
                found[key] = matching(chunk, meter.watch.message)
            meter.add(chunk, found[key])

    def _goes_back(self, chunk: Capture) -> bool:
        """Whether the clock was set back. What was noted in the time that comes twice is forgotten."""
        if not len(chunk):
            return False
        latest = np.maximum.accumulate(chunk.time_ns)
        if self._latest_ns is not None:
            latest = np.maximum(latest, self._latest_ns)
        self._latest_ns = int(latest[-1])
        self.set_back_ns = int((latest - chunk.time_ns).max())
        if self.set_back_ns <= _BACK:
            self.set_back_ns = 0
            return False
        self._notes.forget(self._latest_ns - self.set_back_ns)
        return True

    def step(self, now_ns: int) -> Outcome | None:
        """Time has passed; the outcome of the exercise if it is over."""
        act = self.current
        if act is None:
            if self.phase is Phase.QUIET and not self.quiet_left_ns(now_ns):
                for meter in self._meters.values():
                    meter.calm()
                self._prompt(now_ns)
            return None
        if self.phase is Phase.ASK or self.set_back_ns:
            return None
        if self.phase is Phase.STEADY:
            if now_ns - self._steady_ns >= _STEADY:
                self.phase = Phase.ASK
                self._change_ns = now_ns
            return None
        result = self._seen(act, now_ns)
        if result is None and self._timeout is not None and now_ns - self._since_ns >= self._timeout:
            result = self._late(act)
        return self._close(act, result, now_ns) if result is not None else None

    def done(self, now_ns: int) -> Outcome | None:
        """A person says that the exercise is done (or, for a range, that the value is held now)."""
        act = self.current
        if act is None or self.phase is Phase.ASK or self.set_back_ns or now_ns - self._since_ns < _LEAST:
            return None
        if act.wants == "range":
            if self.phase is Phase.STEADY:
                self.phase, self._change_ns = Phase.ASK, now_ns
            else:
                self.phase, self._steady_ns = Phase.STEADY, now_ns
            return None
        meter = self.meter(act)
        if act.wants == "" or meter is None or not meter.has_state:
            moved = meter is not None and meter.changes
            return self._close(act, Result.MOVED if moved else Result.NO_ANSWER, now_ns)
        if self._fresh(act, least=1):
            return self._close(act, Result.ANSWERED, now_ns)
        if self.phase is Phase.RELEASE:
            return self._close(act, Result.STOOD, now_ns)
        said = StatePeriod(self._since_ns, now_ns, 0, is_open=False)
        self._notes.add(act, said, "a person said it was done, and the role did not follow")
        return self._close(act, Result.NO_ANSWER, now_ns)

    def limits(self, low: float, high: float, now_ns: int) -> Outcome | None:
        """The limits of the held value, as a person read them off the vehicle."""
        act = self.current
        if act is None or self.phase is not Phase.ASK:
            return None
        held = StatePeriod(self._steady_ns, self._change_ns, 0, is_open=False)
        self._notes.add(act, held, "limits as a person read them off the vehicle", between=(low, high))
        return self._close(act, Result.NOTED, now_ns)

    def skip(self, now_ns: int) -> Outcome | None:
        """A person does not do it."""
        act = self.current
        return self._close(act, Result.SKIPPED, now_ns) if act is not None else None

    def stop(self, now_ns: int) -> None:
        """No more exercises. One that is being answered counts."""
        act = self.current
        if act is not None and self.phase is Phase.HOLD and self._fresh(act):
            self._close(act, Result.ANSWERED, now_ns)
        self.outcomes += [Outcome(act, Result.OPEN) for act in self.acts[len(self.outcomes) :]]
        self.phase = Phase.OVER

    # what came of it

    def unasked(self) -> tuple[UnpromptedActivity, ...]:
        """Roles with a mark that took their active state at other times too, in the order of the acts."""
        return self._notes.unasked(self._meters)

    def confirm(self, unasked: UnpromptedActivity) -> None:
        """A person says that the role was really in its state then."""
        for each in unasked.stretches:
            self._notes.add(unasked.act, each, "a person confirmed it afterwards")

    def marks(self, first_ns: int, last_ns: int) -> tuple[ProposedMark, ...]:
        """The marks in order of time, in seconds from the log's first frame; none outside the log."""
        return self._notes.marks(first_ns, last_ns)

    # the rules

    def _seen(self, act: ExerciseStep, now_ns: int) -> Result | None:
        meter = self.meter(act)
        if meter is None or act.wants == "range":
            self.phase = Phase.WAIT
            return None
        if act.wants == "" or not meter.has_state:
            self.phase = Phase.HOLD if meter.changes else Phase.WAIT
            last = meter.last_change_ns
            if not meter.changes or last is None:
                return None
            over = now_ns - last >= _REST or now_ns - self._since_ns >= _MOVED
            return Result.MOVED if over else None
        fresh = self._fresh(act)
        if not fresh:
            stood = (
                meter.stretches
                and meter.stretches[-1].is_open
                and meter.stretches[-1].first_ns < self._since_ns
            )
            self.phase = Phase.RELEASE if stood else Phase.WAIT
            return None
        self.phase = Phase.HOLD
        last_one = fresh[-1]
        if last_one.is_open:
            return Result.ANSWERED if now_ns - last_one.first_ns >= _LONG else None
        return Result.ANSWERED if now_ns - last_one.last_ns >= _SETTLED else None

    def _late(self, act: ExerciseStep) -> Result:
        if act.wants == "state" and self._fresh(act):
            return Result.ANSWERED
        meter = self.meter(act)
        return Result.MOVED if act.wants == "" and meter is not None and meter.changes else Result.TIMED_OUT

    def _fresh(self, act: ExerciseStep, least: int = LEAST_FRAMES) -> list[StatePeriod]:
        """Stretches that began after the prompt."""
        meter = self.meter(act)
        if meter is None:
            return []
        return [each for each in meter.stretches if each.first_ns >= self._since_ns and each.frames >= least]

    def _prompt(self, now_ns: int) -> None:
        if len(self.outcomes) == len(self.acts):
            self.phase, self._over_ns = Phase.OVER, now_ns
            return
        self.phase, self._since_ns = Phase.WAIT, now_ns
        for meter in self._meters.values():
            meter.reset(now_ns)

    def _close(self, act: ExerciseStep, result: Result, now_ns: int) -> Outcome:
        outcome = Outcome(act, result, asked_ns=self._since_ns)
        if result is Result.ANSWERED:
            fresh = self._fresh(act, least=1)
            outcome = replace(outcome, from_ns=fresh[0].first_ns, to_ns=fresh[-1].last_ns)
            flicker = flickers(fresh)
            if flicker is not None:
                outcome = replace(outcome, result=Result.FLICKERED)
                self._notes.add(act, flicker, "the role took the state again and again, faster than a hand")
            for each in fresh if flicker is None else ():
                how = "the role took the state when it was asked for"
                self._notes.add(act, each, how, until_ns=now_ns + _LONG)
        self.outcomes.append(outcome)
        self._notes.turns.append((self._since_ns, now_ns, act))
        self._prompt(now_ns)
        return outcome
