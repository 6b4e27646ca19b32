"""What a search gives: candidates, what was put behind, and what would help."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from enum import StrEnum
from typing import Literal

from netcheck.find._marks import Asked, MarkProblem
from netcheck.network import FrameId
from netcheck.records import dataclass

ByteOrder = Literal["little", "big"]


@dataclass(frozen=True)
class FoundField:
    """Where a candidate lies. byte and bit name its least significant bit; a payload's first byte is 0.

    width: 0 for the message itself: it comes only while the role is active
    """

    channel: str
    frame_id: FrameId
    byte: int
    bit: int
    width: int
    order: ByteOrder = "little"
    is_signed: bool = False

    @property
    def is_presence(self) -> bool:
        """Whether it is the message itself."""
        return self.width == 0


class CandidateKind(StrEnum):
    """How a candidate shows the role."""

    STATE = "state"
    BLINKS = "blinks"  # it flashes while the role is active
    PRESENCE = "presence"  # its message comes only then


@dataclass(frozen=True)
class Cause:
    """A candidate that moves first. delay: s, the median"""

    field: FoundField
    delay: float


@dataclass(frozen=True)
class FieldCandidate:
    """A field that may be the role; of several that move alike the others are its copies.

    score:    how likely it is the one, from 0 to 1
    active:   its values inside marks, rest: those outside
    periods:  when it was active, s; unasked: those that no mark asked for
    in_others: how many of these lie in marks of other roles
    in_quiet: how often it moved in each quiet capture, by file
    period:   of its message, s; at_changes: it is sent besides when the field changes
    """

    field: FoundField
    kind: CandidateKind
    score: float
    active: tuple[int, ...] = ()
    rest: tuple[int, ...] = ()
    followed: int = 0
    matched: int = 0
    edges: int = 0
    lag: float = 0.0
    periods: tuple[tuple[float, float], ...] = ()
    unasked: tuple[tuple[float, float], ...] = ()
    in_others: int = 0
    in_quiet: Mapping[str, int] = dataclasses.field(default_factory=dict)
    period: float = 0.0
    at_changes: bool = False
    copies: tuple[FoundField, ...] = ()
    cause: Cause | None = None


class BehindReason(StrEnum):
    """Why a field that moved is no candidate."""

    COUNTER = "counter"
    CHECKSUM = "checksum"
    QUANTITY = "quantity"
    NOISE = "noise"
    AT_BORDERS = "at-borders"  # it moved just when the recording began or ended: ignition
    IN_QUIET = "in-quiet"
    NOT_WITH_MARKS = "not-with-marks"


@dataclass(frozen=True)
class PutBehind:
    """Bits low to high of a byte that moved and are no candidate."""

    channel: str
    frame_id: FrameId
    byte: int
    low: int
    high: int
    reason: BehindReason


class NextKind(StrEnum):
    """What to record next, and why; each has its words in the report."""

    USE = "use"  # one stands clear
    NO_MOVEMENT = "no-movement"  # nothing moves with the marks
    MORE_MARKS = "more-marks"
    QUIET = "quiet"  # it moves unasked, or no quiet capture was given
    CAUSE = "cause"  # a lever and what it switches: do the one without the other
    TWINS = "twins"  # several follow alike: work other things meanwhile
    OTHERS = "others"  # it also moves with another role's marks
    NOTES = "notes"  # it also moved without a note
    MARKS = "marks"  # no mark was given: these moved only here
    NOTHING_HERE = "nothing-here"  # no mark was given, and nothing moved only here


@dataclass(frozen=True)
class NextExercise:
    """kind, and the field that it is about."""

    kind: NextKind
    about: FoundField | None = None
    marks: int = 0


@dataclass(frozen=True)
class Search:
    """What came of a search.

    separated: one candidate stands clear of all others
    moved:     ids of which anything moved, of messages in all
    """

    file: str
    asked: Asked
    frames: int
    candidates: tuple[FieldCandidate, ...]
    separated: bool
    next: NextExercise
    behind: tuple[PutBehind, ...]
    messages: int
    quiet: tuple[str, ...] = ()

    @property
    def problem(self) -> MarkProblem | None:
        """Why the marks could not be used."""
        return self.asked.problem
