"""The result of a plan: frozen values, ready to be printed or tested."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from netcheck.coding import CodingRow, Write


class Verdict(StrEnum):
    """Of an item, and of a job (the worst of its items')."""

    GO = "go"
    GO_WITH_CHANGES = "go-with-changes"
    UNPROVEN = "unproven"
    NO_GO = "no-go"


class Status(StrEnum):
    """Of a need."""

    SHOWN = "shown"
    EXPECTED = "expected"
    SUPPLIED = "supplied"
    AFTER_CODING = "after-coding"
    MISSING = "missing"


class Reason(StrEnum):
    """Why a need has its status; stable codes."""

    OK = "ok"
    NO_CAPTURE = "no-capture"
    WRONG_TAP = "wrong-tap"
    NO_MARK = "no-mark"
    NOT_EXERCISED = "not-exercised"
    MOVES_UNASKED = "moves-unasked"
    OUT_OF_RANGE = "out-of-range"
    COUNTER_JUMPS = "counter-jumps"
    BY_ITEM = "by-item"
    LOCKED = "locked"
    UNDEFINED_ROLE = "undefined-role"
    UNDEFINED_SIGNAL = "undefined-signal"
    OTHER_NETWORK = "other-network"
    MESSAGE_ABSENT = "message-absent"
    SHORT_FRAME = "short-frame"
    NOT_AVAILABLE = "not-available"
    TOO_SLOW = "too-slow"
    COUNTER_FROZEN = "counter-frozen"
    NO_ANSWER = "no-answer"


class ConflictKind(StrEnum):
    """Why an item cannot be fitted as the job has it; stable codes."""

    ID_IN_USE = "id-in-use"
    TWO_SOURCES = "two-sources"
    FACT_MISMATCH = "fact-mismatch"
    MODULE_ABSENT = "module-absent"
    CODING_CONFLICT = "coding-conflict"
    CODING_UNDEFINED = "coding-undefined"
    LOST_SOURCE = "lost-source"
    OVERLOAD = "overload"


@dataclass(frozen=True)
class NeedResult:
    """A need with its status and what was seen.

    seen: the evidence in numbers, one short line: ``3 of 3 marks, every 100 ms, 92 s on can0``
    also: further reasons that hold, in the order of the rules, each with its one-line text
    next: what to do about it, a sentence; "" when nothing is to be done
    text: seen, also and next as one paragraph, as the JSON has it
    longer_gaps: gaps longer than the part bears, too few to count against it: ``1 of 451 gaps over 250 ms …``
    """

    role: str
    status: Status
    reason: Reason
    evidence: str  # none | defined | present | moves | answers
    network: str | None
    message: str | None
    signal: str | None
    optional: bool
    asks: str  # the least evidence that counts as shown
    max_gap_ms: float | None
    why: str
    seen: str
    also: tuple[str, ...]
    next: str
    text: str
    longer_gaps: str = ""


@dataclass(frozen=True)
class Conflict:
    """Something that stops an item as the job has it."""

    kind: ConflictKind
    text: str
    next: str = ""


@dataclass(frozen=True)
class Question:
    """A fact the part must match and the vehicle file does not state."""

    fact: str
    text: str


@dataclass(frozen=True)
class ItemResult:
    """One item of the job.

    notes: what is worth saying and changes no verdict
    """

    retrofit: str
    title: str
    network: str | None
    verdict: Verdict
    needs: tuple[NeedResult, ...]
    coding: tuple[CodingRow, ...]
    conflicts: tuple[Conflict, ...]
    questions: tuple[Question, ...]
    cautions: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Step:
    """One line of the checklist. item: retrofit name, or "" for the job as a whole."""

    phase: str  # before | fit | code | prove
    item: str
    text: str
    caution: bool = False


@dataclass(frozen=True)
class ChannelUse:
    """A channel of a capture and the network it was taken for (None: none of the vehicle's).

    declared:    the network the job says it is
    text:        how it was identified, in numbers
    is_doubtful: any DBC of the network's size may fit as many of its ids by accident
    """

    file: str
    channel: str
    network: str | None
    frames: int
    seconds: float
    declared: str | None = None
    text: str = ""
    is_doubtful: bool = False


@dataclass(frozen=True)
class Plan:
    """What a job comes to.

    next:     what to do next, in the order that saves a second trip to the vehicle
    warnings: of captures, DBC files and assumptions; one line each
    """

    job: str
    vehicle: str
    model_year: int
    verdict: Verdict
    items: tuple[ItemResult, ...]
    writes: tuple[Write, ...]
    checklist: tuple[Step, ...]
    captures: tuple[ChannelUse, ...]
    next: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    tried: tuple[str, ...] = ()  # for -v: every message and rule looked at
