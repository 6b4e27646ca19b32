"""What a search for a quantity gives: candidates with scale and offset, and what would help."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from enum import StrEnum

from netcheck.find._known import Known
from netcheck.find._model import FoundField, PutBehind
from netcheck.records import dataclass


class Sense(StrEnum):
    """Whether a quantity with the fitted scale makes physical sense; each has its words in the report."""

    NEVER_NEGATIVE = "never-negative"
    NEGATIVE = "negative"
    RISES = "rises"
    FALLS = "falls"
    CONTINUOUS = "continuous"
    JUMPS = "jumps"
    WITHIN = "within-limits"
    BEYOND = "beyond-limits"


class QuantityProblem(StrEnum):
    """Why what is known cannot be used."""

    NO_TIMES = "no-times"
    OUTSIDE = "known-outside"
    TOO_SHORT = "known-too-short"
    CONSTANT = "known-constant"
    NOTHING_KNOWN = "nothing-known"


class QuantityNext(StrEnum):
    """What to record next."""

    USE = "use"
    NO_FIT = "no-fit"
    MORE_TURNS = "more-turns"  # too little up and down to trust any
    BESIDE = "beside"  # a byte beside it may belong to it
    RIVALS = "rivals"  # several move nearly alike


@dataclass(frozen=True)
class FittedScale:
    """physical = scale · raw + offset.

    scale_error, offset_error: one standard error
    usual_scale: the round number or fraction nearest to it, where one lies within the error; else None
    """

    scale: float
    offset: float
    scale_error: float
    offset_error: float
    usual_scale: float | None = None


@dataclass(frozen=True)
class QuantityCandidate:
    """A field that may be the quantity; of several that move alike the others are its copies.

    field:    its width includes ``unmoved`` bits at the top that never changed: there its end is a guess
    fit:      squared correlation with what is known; residual: root mean square of what is left, in the unit
    lag:      s by which it moves later than what is known
    low, high: least and largest physical value
    top_rate, low_rate: share of frames in which its highest moved and its lowest bit changed
    links:    logarithm of the odds that its neighbouring bits belong together
    in_quiet: by file, the share of its range over which it moved in a quiet capture
    beside:   bytes beside it that move only when it does: they may belong to it
    alike:    with the row's other fields, the least squared correlation
    """

    field: FoundField
    score: float
    fit: float
    residual: float
    lag: float
    scale: FittedScale
    low: float
    high: float
    unmoved: int
    low_rate: float
    top_rate: float
    links: float
    period: float
    sense: tuple[Sense, ...] = ()
    in_quiet: Mapping[str, float] = dataclasses.field(default_factory=dict)
    copies: tuple[FoundField, ...] = ()
    beside: tuple[int, ...] = ()
    alike: float = 1.0


@dataclass(frozen=True)
class QuantitySearch:
    """What came of a search for a quantity.

    known:     what the candidates were compared with; None where there is a problem with it
    points:    independent points of it: how much it can show
    separated: one candidate stands clear of all others
    """

    file: str
    role: str
    unit: str
    frames: int
    seconds: float
    known: Known | None
    points: float
    candidates: tuple[QuantityCandidate, ...]
    separated: bool
    next: QuantityNext
    about: FoundField | None
    behind: tuple[PutBehind, ...]
    messages: int
    quiet: tuple[str, ...] = ()
    problem: QuantityProblem | None = None
