"""What a guided recording notes of each exercise, and the marks that come of it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Literal

from netcheck.evidence._state_periods import StateMeter, StatePeriod
from netcheck.evidence._window import LEAD_NS, REACTION_NS
from netcheck.files import Mark
from netcheck.roles import Watch

Key = tuple[str, str | int]  # role and state

# Our own rules of thumb, in ns. UN Regulation No. 48 (from memory) allows indicators of 2 Hz: one that is lit
# half the time is dark for a quarter of a second.
_FLICKER: Final = 250_000_000  # back in the state sooner: it was not left by hand
_BOUNCE: Final = 250_000_000  # so near to the end of a press a contact may bounce
MOST_TO_CONFIRM: Final = 20  # stretches


@dataclass(frozen=True)
class ExerciseStep:
    """An exercise to guide through.

    wants: what counts: "state" – it takes the state; "range" – it holds a value that a person reads off;
           "" – it moves
    watch: where to look; None where the DBC lacks it
    is_marked: a mark is wanted. Where movement is enough, a mark would only make the plan ask for more: that
           the role was never active at other times, in no other capture either
    """

    role: str
    do: str
    state: str | int
    wants: Literal["state", "range", ""]
    optional: bool
    watch: Watch | None
    is_marked: bool = True

    @property
    def key(self) -> Key:
        """What its frames are followed by: role and state."""
        return self.role, self.state


@dataclass(frozen=True)
class ProposedMark:
    """A mark with how it came about."""

    mark: Mark
    how: str


@dataclass(frozen=True)
class UnpromptedActivity:
    """Stretches in which a role was in its state and nobody had asked for it, in ns of the log.

    during: the roles whose exercises were going on, "" for none
    too_many: so often that it must move by itself; not to be confirmed
    """

    act: ExerciseStep
    stretches: tuple[StatePeriod, ...]
    during: tuple[str, ...]
    too_many: bool


@dataclass
class _Note:
    """until_ns: a stretch that goes on for longer is noted up to there."""

    act: ExerciseStep
    stretch: StatePeriod
    how: str
    between: tuple[float, float] | None = None
    until_ns: int | None = None

    @property
    def last_ns(self) -> int:
        if self.until_ns is None:
            return self.stretch.last_ns
        return min(self.stretch.last_ns, self.until_ns)

    def covers(self, stretch: StatePeriod) -> bool:
        begin, end = self.stretch.first_ns - LEAD_NS, self.last_ns + REACTION_NS
        return begin <= stretch.first_ns and stretch.last_ns <= end


class Notes:
    """The notes of a recording. turns: when each exercise was going on, in ns."""

    def __init__(self) -> None:
        self.turns: list[tuple[int, int, ExerciseStep]] = []
        self._notes: list[_Note] = []
        self._since_ns: int | None = None

    def add(
        self,
        act: ExerciseStep,
        stretch: StatePeriod,
        how: str,
        *,
        between: tuple[float, float] | None = None,
        until_ns: int | None = None,
    ) -> None:
        """Note a stretch, unless no mark is wanted of the exercise. An open one grows, up to ``until_ns``."""
        note = _Note(act, stretch, how, between, until_ns)
        if act.is_marked and self._is_clear(note):
            self._notes.append(note)

    def forget(self, since_ns: int) -> None:
        """Keep no note of what goes on at ``since_ns`` or begins after it, none that comes later either."""
        self._since_ns = since_ns
        self._notes = [note for note in self._notes if self._is_clear(note)]

    def has(self, key: Key) -> bool:
        """Whether there is a note of that role and state."""
        return any(note.act.key == key for note in self._notes)

    def asked_ns(self, key: Key) -> int:
        """How long that role and state was asked for, in all."""
        return sum(end - begin for begin, end, act in self.turns if act.key == key)

    def unasked(self, meters: Mapping[Key, StateMeter]) -> tuple[UnpromptedActivity, ...]:
        """Roles with a mark that took their active state at other times too, in the meters' order."""
        found = []
        for key, meter in meters.items():
            notes = [note for note in self._notes if note.act.key == key]
            if not notes or not meter.calls_active:
                continue
            free = tuple(
                each
                for stretch in meter.stretches
                for each in _beyond(stretch, notes)
                if not any(note.covers(each) for note in notes)
            )
            if free:
                during = dict.fromkeys(name for each in free for name in self._during(each))
                too_many = len(free) + meter.more > MOST_TO_CONFIRM
                found.append(UnpromptedActivity(notes[0].act, free, tuple(during), too_many))
        return tuple(found)

    def marks(self, first_ns: int, last_ns: int) -> tuple[ProposedMark, ...]:
        """The marks in order of time, in seconds from the log's first frame; none outside the log."""
        made = [mark for note in self._notes if (mark := _made(note, first_ns, last_ns)) is not None]
        return tuple(sorted(made, key=lambda each: (each.mark.from_, each.mark.role)))

    def _is_clear(self, note: _Note) -> bool:
        return self._since_ns is None or note.last_ns + REACTION_NS < self._since_ns

    def _during(self, stretch: StatePeriod) -> Iterator[str]:
        for begin, end, act in self.turns:
            if stretch.first_ns < end and stretch.last_ns > begin:
                yield act.role


def flickers(stretches: Sequence[StatePeriod]) -> StatePeriod | None:
    """From first to last of stretches that follow each other faster than a hand can; None if none do.

    Frames that contradict each other look like this: two senders, or a loose contact. A contact that bounces
    when it closes and opens does not count.
    """
    for run in _runs(stretches):
        begin, end = run[0].first_ns, run[-1].last_ns
        for before, after in pairwise(run):
            if before.last_ns - begin >= REACTION_NS and end - after.first_ns >= _BOUNCE:
                return StatePeriod(begin, end, sum(each.frames for each in run), is_open=False)
    return None


def _runs(stretches: Iterable[StatePeriod]) -> list[list[StatePeriod]]:
    runs: list[list[StatePeriod]] = []
    for each in stretches:
        if runs and each.first_ns - runs[-1][-1].last_ns < _FLICKER:
            runs[-1].append(each)
        else:
            runs.append([each])
    return runs


def _beyond(stretch: StatePeriod, notes: Iterable[_Note]) -> tuple[StatePeriod, ...]:
    """The stretch, or what goes beyond a note of it."""
    for note in notes:
        if note.stretch is stretch:
            rest = StatePeriod(note.last_ns, stretch.last_ns, 0, is_open=False)
            return () if note.covers(rest) else (rest,)
    return (stretch,)


def _made(note: _Note, first_ns: int, last_ns: int) -> ProposedMark | None:
    """Times in whole milliseconds inside the stretch; a single frame gets one to stand in."""
    if note.stretch.first_ns >= last_ns:
        return None
    begin = max(note.stretch.first_ns - first_ns, 0) // 1_000_000 / 1000
    last = min(note.last_ns, last_ns)  # a person may say "done" after the last frame
    end = max((last - first_ns) // 1_000_000 / 1000, round(begin + 0.001, 3))
    state = {"between": note.between} if note.between is not None else {"state": note.act.state}
    return ProposedMark(
        Mark.model_validate({"role": note.act.role, **state, "from": begin, "to": end}), note.how
    )
