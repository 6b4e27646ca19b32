"""The guide through a recording: exercises in, chunks of frames in, answers and marks out. Pure: no clock.

What a mark may say. The signal alone must not prove itself, so a mark is proposed only for what a person was
asked to do, or said they did:

- A role *answers* when it takes the state after it was asked for, on two frames at least. The mark is that
  period, from the frame that took the state to the last one in it. A silence of the network ends it.
- The guide moves on when the role is back and still: an exercise may have a second half.
- A role that takes and leaves the state faster than a hand can is contradicted: one mark for all of it, so
  that the plan judges every frame in it; none where it is too short for the plan to tell.
- A mark ends with its exercise, or shortly after: a role that stays in the state for longer was left there,
  which a person has to say, or it hangs.
- "Done" without an answer is a question first: one key may be pressed by mistake. Only a person who then says
  that it was done gives a mark, from the prompt on: it was done, and the signal did not follow.
- A role that was in the state all along gives no mark.
- What a role did unprompted is never marked by itself: ``unprompted`` lists it, and ``confirm`` marks it when
  a person says that they did it. Before the first exercise comes a quiet time that shows such roles.
- A range is marked with the limits that a person read off the vehicle, never with what the signal says.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Final

import numpy as np

from netcheck.capture import NON_DATA, Capture
from netcheck.database import matching
from netcheck.evidence._guide_model import ExerciseStep, GuidePhase, Key, Outcome, Result
from netcheck.evidence._observe import message_key
from netcheck.evidence._proposals import (
    MarkOrigin,
    Proposals,
    ProposedMark,
    UnpromptedActivity,
    contradicted,
    would_fail,
)
from netcheck.evidence._state_periods import StateMeter, StatePeriod
from netcheck.roles import Watch

# Our own rules of thumb for the pace of the guide, in ns.
LEAST_FRAMES: Final = 2  # in the state: a single frame may be a disturbance
_SECOND: Final = 1_000_000_000
_SETTLED: Final = 2 * _SECOND  # out of the state this long: back and still
_LONG: Final = 12 * _SECOND  # without a change this long: it need not go back
_REST: Final = 4 * _SECOND  # back and without a change this long: a movement is over
_REST_AGAIN: Final = 8 * _SECOND  # the same, of a role that was active at first: off may come again
_MOVED: Final = 60 * _SECOND  # or moving this long
_LATELY: Final = 2 * _SECOND  # another role that changed so long ago is shown
_STEADY: Final = 3 * _SECOND  # how long a value is held for a range
_LEAST: Final = _SECOND  # "done" sooner after a prompt is a slip of the finger
_BACK: Final = _SECOND // 5  # frames that go back by more show that the clock was set back
_TAIL: Final = 2 * _SECOND  # recorded after the last exercise
_BESIDES: Final = 8  # times the quiet time: how long a role that answered is looked at when nobody asks
_ASLEEP: Final = _SECOND  # without any frame this long, the network may sleep (contract, "Networks")


class Guide:
    """Walks through the exercise steps. Times are ns of the log; calls that have one say what time it is."""

    def __init__(
        self,
        steps: Sequence[ExerciseStep],
        also: Sequence[Watch] = (),
        *,
        timeout_ns: int | None = None,
        quiet_ns: int = 5 * _SECOND,
    ) -> None:
        """also: roles to follow without an exercise; timeout_ns: an exercise without an answer ends then.

        ``set_back_ns`` is how far the clock of the frames was set back, if it was.
        """
        self.steps = tuple(steps)
        self.outcomes: list[Outcome] = []
        self.phase = GuidePhase.QUIET if self.steps else GuidePhase.OVER
        self._timeout, self._quiet = timeout_ns, quiet_ns
        self._meters: dict[Key, StateMeter] = {}
        for step in self.steps:
            if step.watch is not None:
                state = step.state if step.wants != "range" else None
                self._meters.setdefault(step.key, StateMeter(step.watch, state))
        self._also = [StateMeter(watch, None) for watch in also]
        self._begin_ns = self._since_ns = 0
        self._steady_ns = self._change_ns = self._over_ns = self._said_ns = 0
        self._proposals = Proposals()
        self._latest_ns: int | None = None
        self._data_ns: int | None = None
        self.set_back_ns = 0

    # what is going on

    @property
    def current(self) -> ExerciseStep | None:
        """The exercise that is being done; None before the first and after the last."""
        if self.phase in {GuidePhase.QUIET, GuidePhase.OVER}:
            return None
        return self.steps[len(self.outcomes)]

    def meter(self, step: ExerciseStep) -> StateMeter | None:
        """What is seen of a step's role."""
        return self._meters.get(step.key)

    def held_ns(self, now_ns: int) -> int:
        """How long the current role has been in its state since it was asked for."""
        step = self.current
        fresh = self._fresh(step) if step is not None else []
        if not fresh:
            return 0
        last = fresh[-1]
        return (max(now_ns, last.last_ns) if last.is_open else last.last_ns) - last.first_ns

    def quiet_left_ns(self, now_ns: int) -> int:
        """How much of the quiet time is to come."""
        return max(self._begin_ns + self._quiet - now_ns, 0) if self.phase is GuidePhase.QUIET else 0

    def stillness_left_ns(self, now_ns: int) -> int:
        """How much of the stillness after the last exercise is to come; 0 before it.

        A role that moves by itself may do so just when it is asked for. So each role that answered is looked
        at for eight times the quiet time while something else, or nothing, is asked for.
        """
        if self.phase is not GuidePhase.OVER:
            return 0
        left = [self._over_ns + _TAIL - now_ns]
        answered = {outcome.step.key for outcome in self.outcomes if outcome.result is Result.ANSWERED}
        moved = {unprompted.step.key for unprompted in self.unprompted()}
        for key in answered - moved:
            meter = self._meters[key]
            if meter.calls_active and self._proposals.has(key):
                besides = now_ns - self._begin_ns - self._proposals.asked_ns(key)
                left.append(_BESIDES * self._quiet - besides)
        return max(0, *left)

    def movers(self, now_ns: int) -> tuple[StateMeter, ...]:
        """Other roles that changed in the last two seconds."""
        step = self.current
        meters = {meter.watch.role: meter for meter in (*self._meters.values(), *self._also)}
        return tuple(
            meter
            for role, meter in meters.items()
            if (step is None or role != step.role)
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
        rows = {}
        for meter in self._all_meters():
            key = message_key(meter.watch.message)
            if key not in rows:
                rows[key] = matching(chunk, meter.watch.message)
        cuts = self._silences_before(chunk)
        if 0 in cuts:
            self._interrupt()
        borders = [0, *(cut for cut in cuts if cut), len(chunk)]
        for first, stop in pairwise(borders):
            if first:
                self._interrupt()
            for meter in self._all_meters():
                own = rows[message_key(meter.watch.message)]
                if len(borders) > 2:
                    own = own[(own >= first) & (own < stop)]
                meter.add(chunk, own)

    def _all_meters(self) -> tuple[StateMeter, ...]:
        return *self._meters.values(), *self._also

    def _interrupt(self) -> None:
        for meter in self._all_meters():
            meter.interrupt()

    def _silences_before(self, chunk: Capture) -> list[int]:
        """Positions in the chunk of the frames that came after a silence of the network."""
        frames = np.flatnonzero((chunk.flags & NON_DATA) == 0)
        if not len(frames):
            return []
        times = np.maximum.accumulate(chunk.time_ns[frames])
        before = times[0] if self._data_ns is None else self._data_ns
        self._data_ns = max(int(times[-1]), int(before))
        found: list[int] = frames[np.diff(times, prepend=before) > _ASLEEP].tolist()
        return found

    def _goes_back(self, chunk: Capture) -> bool:
        """Whether the clock was set back. What was proposed in the time that comes twice is forgotten."""
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
        self._proposals.forget(self._latest_ns - self.set_back_ns)
        return True

    def advance(self, now_ns: int) -> Outcome | None:
        """Time has passed; the outcome of the exercise if it is over."""
        step = self.current
        if step is None:
            if self.phase is GuidePhase.QUIET and not self.quiet_left_ns(now_ns):
                for meter in self._meters.values():
                    meter.calm()
                self._prompt(now_ns)
            return None
        if self.phase is GuidePhase.ASK or self.set_back_ns:
            return None
        if self.phase is GuidePhase.STEADY:
            if now_ns - self._steady_ns >= _STEADY:
                self.phase = GuidePhase.ASK
                self._change_ns = now_ns
            return None
        result = self._seen(step, now_ns)
        if result is None and self._timeout is not None and now_ns - self._since_ns >= self._timeout:
            result = self._late(step)
        return self._close(step, result, now_ns) if result is not None else None

    def done(self, now_ns: int) -> Outcome | None:  # noqa: PLR0911 – one way out for each case
        """A person says that the exercise is done (or, for a range, that the value is held now).

        Where the role could answer and did not, the phase is UNANSWERED from then on: ``again``, ``skip`` or
        ``insist`` go on from there, or the role's answer does.
        """
        step = self.current
        if (
            step is None
            or self.phase in {GuidePhase.ASK, GuidePhase.UNANSWERED}
            or self.set_back_ns
            or now_ns - self._since_ns < _LEAST
        ):
            return None
        if step.wants == "range":
            if self.phase is GuidePhase.STEADY:
                self.phase, self._change_ns = GuidePhase.ASK, now_ns
            else:
                self.phase, self._steady_ns = GuidePhase.STEADY, now_ns
            return None
        meter = self.meter(step)
        if meter is None:
            return self._close(step, Result.NO_ANSWER, now_ns)
        if step.wants == "" or not meter.has_state:
            if meter.changes:
                return self._close(step, Result.MOVED, now_ns)
        elif self._fresh(step, least=1):
            return self._close(step, Result.ANSWERED, now_ns)
        elif self.phase is GuidePhase.RELEASE:
            return self._close(step, Result.STOOD, now_ns)
        self.phase, self._said_ns = GuidePhase.UNANSWERED, now_ns
        return None

    def again(self, now_ns: int) -> None:
        """A person does an exercise once more that was not answered."""
        if self.phase is GuidePhase.UNANSWERED:
            self._ask(now_ns)

    def insist(self, now_ns: int) -> Outcome | None:
        """A person says that an exercise was really done that was not answered."""
        step = self.current
        if step is None or self.phase is not GuidePhase.UNANSWERED:
            return None
        meter = self.meter(step)
        if step.wants == "state" and meter is not None and meter.has_state:
            said = StatePeriod(self._since_ns, self._said_ns, 0, is_open=False)
            self._proposals.add(step, said, MarkOrigin.SAID_DONE)
        return self._close(step, Result.NO_ANSWER, now_ns)

    def limits(self, low: float, high: float, now_ns: int) -> Outcome | None:
        """The limits of the held value, as a person read them off the vehicle."""
        step = self.current
        if step is None or self.phase is not GuidePhase.ASK:
            return None
        held = StatePeriod(self._steady_ns, self._change_ns, 0, is_open=False)
        self._proposals.add(step, held, MarkOrigin.READ_OFF, between=(low, high))
        return self._close(step, Result.RANGE_MARKED, now_ns)

    def skip(self, now_ns: int) -> Outcome | None:
        """A person does not do it."""
        step = self.current
        return self._close(step, Result.SKIPPED, now_ns) if step is not None else None

    def stop(self, now_ns: int) -> None:
        """No more exercises. One that is being answered counts."""
        step = self.current
        if step is not None and self.phase is GuidePhase.HOLD and self._fresh(step):
            self._close(step, Result.ANSWERED, now_ns)
        elif step is not None:
            self._proposals.turns.append((self._since_ns, now_ns, step))
        self.outcomes += [Outcome(step, Result.OPEN) for step in self.steps[len(self.outcomes) :]]
        self.phase = GuidePhase.OVER

    # what came of it

    def unprompted(self) -> tuple[UnpromptedActivity, ...]:
        """Roles with a mark that took their active state at other times too, in the order of the steps."""
        return self._proposals.unprompted(self._meters)

    def confirm(self, unprompted: UnpromptedActivity) -> None:
        """A person says that they put the role into its state then."""
        for each in unprompted.periods:
            self._proposals.add(unprompted.step, each, MarkOrigin.CONFIRMED)

    def marks(self, first_ns: int, last_ns: int) -> tuple[ProposedMark, ...]:
        """The marks in order of time, in seconds from the log's first frame; none outside the log."""
        return self._proposals.marks(first_ns, last_ns)

    # the rules

    def _seen(self, step: ExerciseStep, now_ns: int) -> Result | None:
        meter = self.meter(step)
        if meter is None or step.wants == "range":
            self.phase = GuidePhase.WAIT
            return None
        if self._data_ns is not None and now_ns - self._data_ns > _ASLEEP:
            return None  # nobody knows what the role does
        if step.wants == "" or not meter.has_state:
            return self._moved(meter, now_ns)
        if not self._fresh(step):
            stood = (
                meter.periods and meter.periods[-1].is_open and meter.periods[-1].first_ns < self._since_ns
            )
            self._wait(GuidePhase.RELEASE if stood else GuidePhase.WAIT)
            return None
        self.phase = GuidePhase.HOLD
        last_one = meter.periods[-1]
        if last_one.is_open:
            return Result.ANSWERED if now_ns - last_one.first_ns >= _LONG else None
        return Result.ANSWERED if now_ns - last_one.last_ns >= _SETTLED else None

    def _moved(self, meter: StateMeter, now_ns: int) -> Result | None:
        """A movement is over when the role is back and still, or still for long, or never still."""
        last = meter.last_change_ns
        if not meter.changes or last is None:
            self._wait(GuidePhase.WAIT)
            return None
        self.phase = GuidePhase.HOLD
        rest = (_REST_AGAIN if meter.was_active else _REST) if meter.is_back else _LONG
        return Result.MOVED if now_ns - last >= rest or now_ns - self._since_ns >= _MOVED else None

    def _wait(self, phase: GuidePhase) -> None:
        """Nothing has answered yet; a question that was put stands."""
        if self.phase is not GuidePhase.UNANSWERED:
            self.phase = phase

    def _late(self, step: ExerciseStep) -> Result:
        if step.wants == "state" and self._fresh(step):
            return Result.ANSWERED
        meter = self.meter(step)
        return Result.MOVED if step.wants == "" and meter is not None and meter.changes else Result.TIMED_OUT

    def _fresh(self, step: ExerciseStep, least: int = LEAST_FRAMES) -> list[StatePeriod]:
        """Periods that began after the prompt."""
        meter = self.meter(step)
        if meter is None:
            return []
        return [each for each in meter.periods if each.first_ns >= self._since_ns and each.frames >= least]

    def _prompt(self, now_ns: int) -> None:
        if len(self.outcomes) == len(self.steps):
            self.phase, self._over_ns = GuidePhase.OVER, now_ns
        else:
            self._ask(now_ns)

    def _ask(self, now_ns: int) -> None:
        self.phase, self._since_ns = GuidePhase.WAIT, now_ns
        for meter in self._meters.values():
            meter.reset(now_ns)

    def _close(self, step: ExerciseStep, result: Result, now_ns: int) -> Outcome:
        outcome = Outcome(step, result, asked_ns=self._since_ns)
        if result is Result.ANSWERED:
            fresh = self._fresh(step, least=1)
            outcome = replace(outcome, from_ns=fresh[0].first_ns, to_ns=fresh[-1].last_ns)
            span = contradicted(fresh)
            if span is None:
                for each in fresh:
                    self._proposals.add(step, each, MarkOrigin.ANSWERED, until_ns=now_ns + _LONG)
            else:
                outcome = replace(outcome, result=Result.CONTRADICTED)
                if would_fail(span, fresh, self._meters[step.key].gap_ns):
                    self._proposals.add(step, span, MarkOrigin.CONTRADICTED)
        self.outcomes.append(outcome)
        self._proposals.turns.append((self._since_ns, now_ns, step))
        self._prompt(now_ns)
        return outcome
