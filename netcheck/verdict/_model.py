"""What is said of needs and items: frozen values, without a sentence."""

from __future__ import annotations

import math
from dataclasses import field
from enum import StrEnum

from netcheck.coding import CodingRow
from netcheck.evidence import Observation
from netcheck.files import CustomerWords, UnlockedBy, Wire
from netcheck.network import Candidate, FrameId, IdentityLevel
from netcheck.records import dataclass
from netcheck.roles import Lack
from netcheck.verdict._findings import Conflict, Note, Question


class Verdict(StrEnum):
    """Of an item, and of a job (the worst of its items')."""

    GO = "go"
    GO_WITH_CHANGES = "go-with-changes"
    UNPROVEN = "unproven"
    NO_GO = "no-go"

    @property
    def is_fittable(self) -> bool:
        """Whether the part may be fitted as things stand."""
        return self in {Verdict.GO, Verdict.GO_WITH_CHANGES}


class Status(StrEnum):
    """Of a need."""

    SHOWN = "shown"
    EXPECTED = "expected"
    SUPPLIED = "supplied"
    AFTER_CODING = "after-coding"
    MISSING = "missing"

    @property
    def is_open(self) -> bool:
        """Whether something is still to be done before the need is met."""
        return self in {Status.EXPECTED, Status.MISSING}


class Reason(StrEnum):
    """Why a need has its status; stable codes."""

    OK = "ok"
    NO_CAPTURE = "no-capture"
    WRONG_TAP = "wrong-tap"
    DOUBTFUL_NETWORK = "doubtful-network"
    NO_TIME = "no-time"
    NO_MARK = "no-mark"
    SOME_ANSWERS = "some-answers"
    DELAY_NOT_SHOWN = "delay-not-shown"
    NOT_EXERCISED = "not-exercised"
    MOVES_UNASKED = "moves-unasked"
    OUT_OF_RANGE = "out-of-range"
    COUNTER_JUMPS = "counter-jumps"
    BY_WIRE = "by-wire"
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


@dataclass(frozen=True)
class ChannelUse:
    """A channel of a capture and the network it was taken for (None: none of the vehicle's).

    declared:    the network the job says it is
    ids:         how many distinct ids it carries
    candidates:  the vehicle's networks that explain some of them, best first; a declared one before all
    level:       how well it is known to be the network
    is_left_out: another channel is identified as the network, and this one is only perhaps it
    is_diagnostics_only: it carries nothing but diagnostics
    has_times:   whether its frames have time stamps
    vins:        vehicle identification numbers that its diagnostics told
    """

    file: str
    channel: str
    network: str | None
    frames: int
    seconds: float
    declared: str | None = None
    ids: int = 0
    candidates: tuple[Candidate, ...] = ()
    level: IdentityLevel = IdentityLevel.IDENTIFIED
    is_left_out: bool = False
    is_diagnostics_only: bool = False
    has_times: bool = True
    vins: tuple[str, ...] = ()

    @property
    def more_ids(self) -> int:
        """How many more ids must fit the declared network, where too few came to tell; else 0."""
        ours = self.own
        if self.network is not None or ours is None or not ours.explained or 2 * ours.explained < self.ids:
            return 0
        is_best = all(entry.explained < ours.explained for entry in self.candidates if entry is not ours)
        return max(ours.least - ours.explained, 0) if is_best else 0

    @property
    def own(self) -> Candidate | None:
        """How the network fits that it is taken for, or declared to be."""
        name = self.network or self.declared
        return next((entry for entry in self.candidates if entry.network == name), None)

    @property
    def is_doubtful(self) -> bool:
        """Whether too few ids fit to trust what the network's DBC says of it."""
        return self.level is IdentityLevel.DOUBTFUL

    @property
    def is_partial(self) -> bool:
        """Whether its network's DBC has less than two thirds of the ids."""
        return self.network is not None and self.own is not None and self.own.is_partial

    @property
    def rivals(self) -> tuple[str, ...]:
        """Networks that fit about equally, best first, where nobody says which it is; else ()."""
        if self.network is not None or self.declared is not None:
            return ()
        if not any(entry.is_possible and entry.is_beyond_chance for entry in self.candidates):
            return ()
        best = self.candidates[0].explained
        return tuple(entry.network for entry in self.candidates if 2 * best < 3 * entry.explained)

    @property
    def is_unclear(self) -> bool:
        """Whether several networks fit about equally."""
        return bool(self.rivals)


@dataclass(frozen=True)
class Elsewhere:
    """A role's entry on another network than the need's.

    cycle_ms: how often its DBC says it comes, where that is too rarely for the part; else None
    """

    network: str
    title: str
    cycle_ms: float | None = None


@dataclass(frozen=True)
class OtherByte:
    """Bits of a byte that did what a signal that never moved did not.

    bits:     a mask
    changes:  from frame to frame; None of bits that followed the marks
    frame_id, message: where they are, None for the signal's own message
    signals:  what the DBC has in those bits
    free:     a mask of those in which it has none
    """

    byte: int
    bits: int
    free: int
    changes: int | None = None
    frame_id: FrameId | None = None
    message: str | None = None
    signals: tuple[str, ...] = ()


@dataclass(frozen=True)
class OtherBits:
    """What moved while none of a signal's own bits did.

    own:       the signal's bytes
    moved:     bytes of the same message, without counters, checksums and what else runs all the time
    followers: bits on the network that had one value in all marks and the other one outside
    has_marks: whether somebody marked when it was exercised
    """

    own: tuple[int, ...]
    moved: tuple[OtherByte, ...] = ()
    followers: tuple[OtherByte, ...] = ()
    has_marks: bool = False

    @property
    def is_doubt(self) -> bool:
        """Whether the signal's place is in doubt.

        While nobody marked an exercise, signals that the DBC knows may move as they like.
        """
        return self.has_marks or any(byte.free for byte in self.moved)


@dataclass(frozen=True)
class Peers:
    """What captures of other vans of the model year show of a need, from an archive. It decides nothing.

    captures, vans: of the need's network; strangers: captures among them whose van is unknown
    there, moved, answered: captures in which the signal had values, moved, followed all its marks
    moved_vans: vans on which it moved
    period_ms, gap_ms: medians of its usual gap, and of the 99th percentile of its gaps
    """

    year: int
    captures: int
    vans: int
    strangers: int
    there: int
    moved: int
    moved_vans: int
    answered: int
    period_ms: float | None = None
    gap_ms: float | None = None


@dataclass(frozen=True)
class NeedFacts:
    """What was looked at for a need, and what was found.

    wired:       the network the item is wired to; None while undecided
    wire:        the wire of its own that brings the signal
    frame_id:    of the message, where the DBC has it
    counter:     the rolling counter that the role names
    similar:     roles that the vehicle file maps, whose names are much like the need's
    lacks:       what the DBC lacks, None where it has all
    elsewhere:   the role's entries on other networks, where it has none on the need's
    seconds, channels, files: how long the network was listened to, and where
    misdeclared: channels that the job says are the network and whose traffic is not
    diagnostics: channels that the job says are the network, with nothing but diagnostics
    doubtful:    the channels that may be the network, where none is identified as it
    is_sent_at_changes: a change is sent at once, beside or instead of a fixed period
    limits, unit: of the signal by its DBC
    held:        label of the one value it held, if it held one and that has a label
    locked_by:   the coding that it waits for
    exercises:   how the retrofit file says to show it
    suppliers:   other items that send it, and on which network
    asked:       the rules that were asked, in their order, and whether each holds
    other_bits:  what moved instead of a signal that never did
    peers:       what other vans of the model year showed, where an archive was asked
    """

    wired: str | None = None
    wire: Wire | None = None
    frame_id: FrameId | None = None
    counter: str | None = None
    similar: tuple[str, ...] = ()
    lacks: Lack | None = None
    elsewhere: tuple[Elsewhere, ...] = ()
    seconds: float = 0.0
    channels: tuple[str, ...] = ()
    files: tuple[str, ...] = ()
    misdeclared: tuple[ChannelUse, ...] = ()
    diagnostics: tuple[ChannelUse, ...] = ()
    doubtful: tuple[ChannelUse, ...] = ()
    is_sent_at_changes: bool = False
    seen: Observation = field(default_factory=Observation)
    limits: tuple[float | None, float | None] = (None, None)
    unit: str = ""
    held: str | None = None
    has_active_states: bool = False
    locked_by: UnlockedBy | None = None
    exercises: tuple[str, ...] = ()
    suppliers: tuple[str, ...] = ()
    supplied_on: str | None = None
    asked: tuple[tuple[Reason, bool], ...] = ()
    other_bits: OtherBits | None = None
    peers: Peers | None = None

    @property
    def is_captured(self) -> bool:
        """Whether the need was judged by a capture."""
        return bool(self.channels)

    @property
    def is_followed(self) -> bool:
        """Whether the signal never moved, and other bits follow its marks."""
        return self.other_bits is not None and bool(self.other_bits.followers)


@dataclass(frozen=True)
class NeedResult:
    """A need with its status and what it rests on.

    asks: the least evidence that counts as shown
    also: further reasons that hold, in the order of the rules
    """

    role: str
    status: Status
    reason: Reason
    evidence: str  # none | defined | present | moves | answers
    network: str | None
    message: str | None
    signal: str | None
    optional: bool
    asks: str
    max_gap_ms: float | None
    why: str
    max_delay_ms: float | None = None
    used_by: str | None = None
    also: tuple[Reason, ...] = ()
    facts: NeedFacts = field(default_factory=NeedFacts)

    @property
    def title(self) -> str:
        """``Message.Signal`` as the vehicle file names it, or the role where it maps none."""
        return f"{self.message}.{self.signal}" if self.message else self.role

    @property
    def longer_gaps(self) -> int:
        """How many gaps were longer than the part accepts, too few to count against it."""
        if self.max_gap_ms is None or math.isinf(self.max_gap_ms) or self.status is Status.SUPPLIED:
            return 0
        return self.facts.seen.gaps.longer_than(round(self.max_gap_ms * 1e6))


@dataclass(frozen=True)
class ResourceWait:
    """A resource that an item takes of parts which are not ready themselves.

    ready:  how much the vehicle and the parts give that can be fitted
    givers: the parts that would give it and cannot be fitted yet, with their verdicts
    """

    resource: str
    needed: int
    ready: int
    givers: tuple[tuple[str, Verdict], ...]
    why: str = ""


@dataclass(frozen=True)
class ItemResult:
    """One item of the job.

    notes: what is worth saying and changes no verdict
    waits: resources of parts that are not ready themselves
    customer: what the handover page tells, and dangers: what the retrofit file warns of at the handover
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
    notes: tuple[Note, ...] = ()
    waits: tuple[ResourceWait, ...] = ()
    customer: CustomerWords | None = None
    dangers: tuple[str, ...] = ()
