"""The marks that a guided recording proposes: what each exercise showed, and what came unprompted."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from enum import StrEnum
from itertools import pairwise
from typing import Final

from netcheck.evidence._guide_model import ExerciseStep, Key
from netcheck.evidence._state_periods import StateMeter, StatePeriod
from netcheck.evidence._window import LEAD_NS, REACTION_NS
from netcheck.files import Mark
from netcheck.records import dataclass

# Our own rules of thumb, in ns. UN Regulation No. 48 (from memory) allows indicators of 2 Hz: one that is lit
# half the time is dark for a quarter of a second.
_FLICKER: Final = 250_000_000  # back in the state sooner: it was not left by hand
_BOUNCE: Final = 250_000_000  # so near to the end of a press a contact may bounce
# A mark is judged from half a second and a period of the message after its begin to half a second before its
# end; one of which less than 0.2 s is left is answered by a single frame.
_MOST_PERIOD: Final = 2_000_000_000
_LEAST_JUDGED: Final = 200_000_000
MOST_TO_CONFIRM: Final = 20  # periods


class MarkOrigin(StrEnum):
    """How a proposed mark came about."""

    ANSWERED = "answered"  # the role took the state when it was asked for
    CONTRADICTED = "contradicted"  # it took and left the state faster than a hand can
    SAID_DONE = "said-done"  # a person said it was done, and the role did not follow
    READ_OFF = "read-off"  # the limits of a range, as a person read them off the vehicle
    CONFIRMED = "confirmed"  # a person confirmed it afterwards


@dataclass(frozen=True)
class ProposedMark:
    """A mark with how it came about."""

    mark: Mark
    origin: MarkOrigin


@dataclass(frozen=True)
class UnpromptedActivity:
    """Periods in which a role was in its state and nobody had asked for it, in ns of the log.

    during:    the roles whose exercises were going on, () for none
    hands_off: how many of the periods came while nobody was to touch anything
    too_many:  so often that it must move by itself; not to be confirmed
    """

    step: ExerciseStep
    periods: tuple[StatePeriod, ...]
    during: tuple[str, ...]
    hands_off: int
    too_many: bool


@dataclass
class _Proposal:
    """until_ns: a period that goes on for longer is marked up to there."""

    step: ExerciseStep
    period: StatePeriod
    origin: MarkOrigin
    between: tuple[float, float] | None = None
    until_ns: int | None = None

    @property
    def last_ns(self) -> int:
        if self.until_ns is None:
            return self.period.last_ns
        return min(self.period.last_ns, self.until_ns)

    def covers(self, period: StatePeriod) -> bool:
        begin, end = self.period.first_ns - LEAD_NS, self.last_ns + REACTION_NS
        return begin <= period.first_ns and period.last_ns <= end


class Proposals:
    """The proposals of a recording. turns: when each exercise was going on, in ns."""

    def __init__(self) -> None:
        self.turns: list[tuple[int, int, ExerciseStep]] = []
        self._proposals: list[_Proposal] = []
        self._since_ns: int | None = None

    def add(
        self,
        step: ExerciseStep,
        period: StatePeriod,
        origin: MarkOrigin,
        *,
        between: tuple[float, float] | None = None,
        until_ns: int | None = None,
    ) -> None:
        """Propose a mark, unless none is wanted of the exercise. An open period grows, up to ``until_ns``."""
        proposal = _Proposal(step, period, origin, between, until_ns)
        if step.is_marked and self._is_clear(proposal):
            self._proposals.append(proposal)

    def forget(self, since_ns: int) -> None:
        """Keep no proposal of what goes on at ``since_ns`` or begins after it, and take none later."""
        self._since_ns = since_ns
        self._proposals = [each for each in self._proposals if self._is_clear(each)]

    def has(self, key: Key) -> bool:
        """Whether there is a proposal for that role and state."""
        return any(each.step.key == key for each in self._proposals)

    def asked_ns(self, key: Key) -> int:
        """How long that role and state was asked for, in all."""
        return sum(end - begin for begin, end, step in self.turns if step.key == key)

    def unprompted(self, meters: Mapping[Key, StateMeter]) -> tuple[UnpromptedActivity, ...]:
        """Roles with a mark that took their active state at other times too, in the meters' order."""
        found = []
        for key, meter in meters.items():
            own = [each for each in self._proposals if each.step.key == key]
            if not own or not meter.calls_active:
                continue
            free = tuple(
                rest
                for period in meter.periods
                for rest in _beyond(period, own)
                if not any(each.covers(rest) for each in own)
            )
            if free:
                turns = [tuple(self._during(period)) for period in free]
                during = dict.fromkeys(role for roles in turns for role in roles)
                too_many = len(free) + meter.more > MOST_TO_CONFIRM
                hands_off = sum(not roles for roles in turns)
                found.append(UnpromptedActivity(own[0].step, free, tuple(during), hands_off, too_many))
        return tuple(found)

    def marks(self, first_ns: int, last_ns: int) -> tuple[ProposedMark, ...]:
        """The marks in order of time, in seconds from the log's first frame; none outside the log."""
        found = [mark for each in self._proposals if (mark := _marked(each, first_ns, last_ns)) is not None]
        return tuple(sorted(found, key=lambda each: (each.mark.from_, each.mark.role)))

    def _is_clear(self, proposal: _Proposal) -> bool:
        return self._since_ns is None or proposal.last_ns + REACTION_NS < self._since_ns

    def _during(self, period: StatePeriod) -> Iterator[str]:
        for begin, end, step in self.turns:
            if period.first_ns < end and period.last_ns > begin:
                yield step.role


def contradicted(periods: Sequence[StatePeriod]) -> StatePeriod | None:
    """From first to last of periods that follow each other faster than a hand can; None if none do.

    Frames that contradict each other look like this: two senders, or a loose contact. A contact that bounces
    when it closes and opens does not count.
    """
    for run in _runs(periods):
        begin, end = run[0].first_ns, run[-1].last_ns
        for before, after in pairwise(run):
            if before.last_ns - begin >= REACTION_NS and end - after.first_ns >= _BOUNCE:
                return StatePeriod(begin, end, sum(each.frames for each in run), is_open=False)
    return None


def would_fail(span: StatePeriod, periods: Sequence[StatePeriod], gap_ns: int) -> bool:
    """Whether a mark of all of ``span`` is sure not to be answered: the state is left where it is judged.

    gap_ns: between two frames of the message, rather too much than too little
    """
    inside = [each for each in periods if span.first_ns <= each.first_ns and each.last_ns <= span.last_ns]
    begin, end = span.first_ns + REACTION_NS + min(gap_ns, _MOST_PERIOD), span.last_ns - REACTION_NS
    if end - begin < _LEAST_JUDGED:
        return False
    return any(begin <= before.last_ns and after.first_ns <= end for before, after in pairwise(inside))


def _runs(periods: Iterable[StatePeriod]) -> list[list[StatePeriod]]:
    runs: list[list[StatePeriod]] = []
    for each in periods:
        if runs and each.first_ns - runs[-1][-1].last_ns < _FLICKER:
            runs[-1].append(each)
        else:
            runs.append([each])
    return runs


def _beyond(period: StatePeriod, proposals: Iterable[_Proposal]) -> tuple[StatePeriod, ...]:
    """The period, or what goes beyond a mark of it."""
    for each in proposals:
        if each.period is period:
            rest = StatePeriod(each.last_ns, period.last_ns, 0, is_open=False)
            return () if each.covers(rest) else (rest,)
    return (period,)


def _marked(proposal: _Proposal, first_ns: int, last_ns: int) -> ProposedMark | None:
    """Times in whole milliseconds inside the period; a single frame gets one to stand in."""
    if proposal.period.first_ns >= last_ns:
        return None
    begin = max(proposal.period.first_ns - first_ns, 0) // 1_000_000 / 1000
    last = min(proposal.last_ns, last_ns)  # a person may say "done" after the last frame
    end = max((last - first_ns) // 1_000_000 / 1000, round(begin + 0.001, 3))
    state = {"between": proposal.between} if proposal.between is not None else {"state": proposal.step.state}
    mark = Mark.model_validate({"role": proposal.step.role, **state, "from": begin, "to": end})
    return ProposedMark(mark, proposal.origin)
