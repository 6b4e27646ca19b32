"""The guide of a recording that looks for roles: what to do when, and the ranking after each press.

Pure, with no clock: calls say what time it is, in ns of the log. The marks are the times at which it asked.
No key makes a mark, so none can make an answer; one that takes a press back only costs that press.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from enum import StrEnum
from itertools import accumulate, combinations, pairwise
from typing import Final

from netcheck.capture import Capture
from netcheck.find._marks import FindMark
from netcheck.find._model import NextKind, Search
from netcheck.find._movements import Movements, MovementTally
from netcheck.find._search import find_states
from netcheck.records import dataclass

_SECOND: Final = 1_000_000_000
_DRAWS: Final = 64  # rhythms of which the best is taken
_HOLDS: Final = (1.0, 2.0, 3.5)  # of the shortest press
_PAUSES: Final = (2.0, 6.0)
_VARIED: Final = (0.9, 1.2)
_AFTER: Final = 1.5  # of the shortest press, after it: late frames count
_EXTRA: Final = 10.0  # of the shortest press: how long something else is done


class AskKind(StrEnum):
    """What is asked for, or told; each has its words in the report."""

    TOUCH_NOTHING = "touch-nothing"
    ROLE = "role"  # the next role's turn
    WORK = "work"
    LET_GO = "let-go"
    RANKED = "ranked"
    WORK_OTHERS = "work-others"
    APART = "apart"  # what it switches, or what switches it, alone
    CLEAR = "clear"  # one candidate stands clear
    GIVEN_UP = "given-up"
    OVER = "over"


_EXTRAS: Final = {
    NextKind.QUIET: AskKind.TOUCH_NOTHING,
    NextKind.TWINS: AskKind.WORK_OTHERS,
    NextKind.OTHERS: AskKind.WORK_OTHERS,
    NextKind.CAUSE: AskKind.APART,
}


@dataclass(frozen=True)
class Asking:
    """Something to say. seconds: how long it takes; search: the ranking so far"""

    kind: AskKind
    role: str = ""
    seconds: float = 0.0
    press: int = 0
    search: Search | None = None


@dataclass(frozen=True)
class Pace:
    """shortest: press, s; quiet: s in which nobody touches anything first; least, most: presses of a role."""

    shortest: float = 1.0
    quiet: float = 5.0
    least: int = 3
    most: int = 7


def rhythm(draw: random.Random, presses: int, shortest: float) -> list[tuple[float, float]]:
    """Pauses and presses, in s: of many drawn by chance the one whose intervals are least alike.

    What moves by itself, evenly or not, does not fit edges of which no two pairs lie equally far apart.
    """
    best: tuple[float, list[tuple[float, float]]] = (-1.0, [])
    for _ in range(_DRAWS):
        holds = [_HOLDS[number % len(_HOLDS)] for number in range(presses)]
        draw.shuffle(holds)
        steps = [
            (shortest * draw.uniform(*_PAUSES), shortest * hold * draw.uniform(*_VARIED)) for hold in holds
        ]
        best = max(best, (_difference(steps), steps), key=lambda each: each[0])
    return best[1]


def _difference(steps: Sequence[tuple[float, float]]) -> float:
    """Of the two most similar distances between edges, s."""
    edges = list(accumulate(each for step in steps for each in step))
    apart = sorted(later - sooner for sooner, later in combinations(edges, 2))
    return min((b - a for a, b in pairwise(apart)), default=0.0)


class SearchGuide:
    """Asks for the roles one after another. ``advance`` gives what is to be said, in order."""

    def __init__(self, roles: Sequence[str], pace: Pace, seed: int) -> None:
        self.roles = tuple(roles)
        self.phase = AskKind.TOUCH_NOTHING
        self._pace = pace
        self._draw = random.Random(seed)
        self._tally = MovementTally()
        self._channels: tuple[str, ...] = ()
        self._marks: list[tuple[str, int, int]] = []
        self._place = -1
        self._first_ns = self._since_ns = self._until_ns = 0
        self._steps: list[tuple[float, float]] = []
        self._done: set[AskKind] = set()
        self._search: Search | None = None

    @property
    def role(self) -> str:
        """The one whose turn it is; "" before the first and after the last."""
        return self.roles[self._place] if 0 <= self._place < len(self.roles) else ""

    @property
    def search(self) -> Search | None:
        """The ranking after the last press of the role."""
        return self._search

    @property
    def is_over(self) -> bool:
        """Whether nothing more is asked for."""
        return self.phase is AskKind.OVER

    def left(self, now_ns: int) -> float:
        """Seconds until the next thing is asked for."""
        return max(self._until_ns - now_ns, 0) / _SECOND

    def begin(self, first_ns: int, now_ns: int) -> list[Asking]:
        """first_ns: of the log's first frame"""
        self._first_ns = first_ns
        self._wait(AskKind.TOUCH_NOTHING, now_ns, self._pace.quiet)
        return [Asking(AskKind.TOUCH_NOTHING, seconds=self._pace.quiet)]

    def take(self, chunk: Capture) -> None:
        """Frames that came."""
        self._tally.add(chunk)
        self._channels = chunk.channels

    def advance(self, now_ns: int) -> list[Asking]:
        """Time has passed."""
        if self.is_over or now_ns < self._until_ns:
            return []
        if self.phase is AskKind.TOUCH_NOTHING and self._place < 0:
            return self._next_role(now_ns)
        if self.phase is AskKind.ROLE:  # the pause before a press
            hold = self._steps[0][1]
            self._wait(AskKind.WORK, now_ns, hold)
            return [Asking(AskKind.WORK, self.role, hold, self.presses + 1)]
        if self.phase is AskKind.WORK:
            self._marks.append((self.role, self._since_ns, now_ns))
            self._steps.pop(0)
            self._wait(AskKind.LET_GO, now_ns, _AFTER * self._pace.shortest)
            return [Asking(AskKind.LET_GO, self.role, press=self.presses)]
        return self._judge(now_ns)

    @property
    def presses(self) -> int:
        """Of the role whose turn it is."""
        return sum(role == self.role for role, _, _ in self._marks)

    def again(self, now_ns: int) -> None:
        """A person missed the press that is asked for, or the last one: it counts no more."""
        if self.phase is AskKind.WORK:
            self._pause(now_ns)
        elif self.phase in {AskKind.LET_GO, AskKind.ROLE} and self.presses:
            self._marks.pop()
            self._steps = [*rhythm(self._draw, 1, self._pace.shortest), *self._steps]
            self._pause(now_ns)

    def skip(self, now_ns: int) -> list[Asking]:
        """A person leaves a role out."""
        if not self.role:
            return []
        return [Asking(AskKind.GIVEN_UP, self.role, search=self._search), *self._next_role(now_ns)]

    def stop(self) -> None:
        """Nothing more is asked for. A press that was not over makes no mark."""
        self.phase = AskKind.OVER

    def marks(self) -> list[FindMark]:
        """When what was asked for, in seconds from the log's first frame."""
        return [
            FindMark(role, "active", (begin - self._first_ns) / _SECOND, (end - self._first_ns) / _SECOND)
            for role, begin, end in self._marks
        ]

    def movements(self, file: str) -> Movements:
        """Of all frames that came."""
        return self._tally.result(file, self._channels)

    def searches(self, file: str) -> list[Search]:
        """Of each role that has marks, with those of all."""
        movements, marks = self.movements(file), self.marks()
        asked = {mark.role for mark in marks}
        return [find_states(movements, marks, role) for role in self.roles if role in asked]

    # the rules

    def _wait(self, phase: AskKind, now_ns: int, seconds: float) -> None:
        self.phase, self._since_ns = phase, now_ns
        self._until_ns = now_ns + round(seconds * _SECOND)

    def _pause(self, now_ns: int) -> None:
        self._wait(AskKind.ROLE, now_ns, self._steps[0][0])

    def _next_role(self, now_ns: int) -> list[Asking]:
        self._place += 1
        self._done, self._search = set(), None
        if not self.role:
            self._wait(AskKind.OVER, now_ns, 0)
            return [Asking(AskKind.OVER)]
        self._steps = rhythm(self._draw, self._pace.least, self._pace.shortest)
        self._pause(now_ns)
        return [Asking(AskKind.ROLE, self.role, self._steps[0][0])]

    def _judge(self, now_ns: int) -> list[Asking]:
        """After a press, or after something else was done: rank, then ask for what separates the rest."""
        search = self._search = find_states(self.movements(""), self.marks(), self.role)
        told = [Asking(AskKind.RANKED, self.role, press=self.presses, search=search)]
        if self._steps:
            self._pause(now_ns)
            return told
        if search.separated and self._has_open_copies(search):
            return [*told, *self._extra(AskKind.WORK_OTHERS, search, now_ns)]
        if search.separated:
            return [*told, Asking(AskKind.CLEAR, self.role, search=search), *self._next_role(now_ns)]
        if self.presses >= self._pace.most:
            return [*told, *self.skip(now_ns)]
        extra = _EXTRAS.get(search.next.kind)
        if extra is not None and extra not in self._done:
            return [*told, *self._extra(extra, search, now_ns)]
        self._steps = rhythm(self._draw, 1, self._pace.shortest)
        self._pause(now_ns)
        return told

    def _has_open_copies(self, search: Search) -> bool:
        """Whether what seems to be a copy may follow other controls as well, and no other role tells."""
        is_open = len(self.roles) == 1 and AskKind.WORK_OTHERS not in self._done
        return is_open and bool(search.candidates[0].copies)

    def _extra(self, kind: AskKind, search: Search, now_ns: int) -> list[Asking]:
        self._done.add(kind)
        seconds = _EXTRA * self._pace.shortest
        self._wait(kind, now_ns, seconds)
        return [Asking(kind, self.role, seconds, search=search)]
