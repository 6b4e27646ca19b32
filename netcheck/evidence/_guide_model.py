"""What a guided recording is made of: exercise steps, what the guide waits for, what a step came to."""

from __future__ import annotations

from enum import StrEnum
from typing import Literal

from netcheck.records import dataclass
from netcheck.roles import Watch

Key = tuple[str, str | int]  # role and state


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


class GuidePhase(StrEnum):
    """What the guide waits for."""

    QUIET = "quiet"  # hands off
    RELEASE = "release"  # in the state already: leave it first
    WAIT = "wait"
    HOLD = "hold"  # in the state, or moving
    UNANSWERED = "unanswered"  # a person says it is done, and nothing answered: again, skip, or really done
    STEADY = "steady"  # the value is held
    ASK = "ask"  # the limits of the value are to be typed
    OVER = "over"


class Result(StrEnum):
    """What an exercise came to."""

    ANSWERED = "answered"
    MOVED = "moved"
    RANGE_MARKED = "noted"  # a range, with its limits
    CONTRADICTED = "flickered"  # took the state and left it again and again, faster than a hand can
    NO_ANSWER = "no-answer"  # done, and the role did not follow
    STOOD = "stood"  # in the state all along
    SKIPPED = "skipped"
    TIMED_OUT = "timed-out"
    OPEN = "open"  # not come to


GOOD: frozenset[Result] = frozenset({Result.ANSWERED, Result.MOVED, Result.RANGE_MARKED})


@dataclass(frozen=True)
class Outcome:
    """An exercise with its result; when it was asked for and answered, in ns of the log."""

    step: ExerciseStep
    result: Result
    from_ns: int | None = None
    to_ns: int | None = None
    asked_ns: int | None = None

    @property
    def is_good(self) -> bool:
        """Whether it showed what it was to show."""
        return self.result in GOOD
