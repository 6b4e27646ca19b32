"""What the comparison of a vehicle before and after a fitting comes to: frozen values, without a sentence."""

from __future__ import annotations

from enum import StrEnum

from netcheck.coding import CodingRow
from netcheck.prove._change_model import ProvenMessage, VehicleChange
from netcheck.prove._note_model import ProveNote
from netcheck.records import dataclass
from netcheck.verdict import ChannelUse, NeedResult


class ProveVerdict(StrEnum):
    """Of a job after the fitting."""

    PASS = "pass"
    PASS_WITH_NOTES = "pass-with-notes"
    NOT_SHOWN = "not-shown"
    FAIL = "fail"


class PromiseKind(StrEnum):
    """What a plan says will be different."""

    NEW_ID = "new-id"
    SOURCE_GONE = "source-gone"
    CODING = "coding"


@dataclass(frozen=True)
class Promise:
    """A planned change and whether it happened: is_kept is None where that was not seen.

    message: of new-id and source-gone; row: of coding, with what was found in ``found``
    """

    kind: PromiseKind
    item: str
    is_kept: bool | None
    message: ProvenMessage | None = None
    row: CodingRow | None = None
    found: str | int | None = None


class DelayStart(StrEnum):
    """What a delay is counted from."""

    COPY = "copy"  # the same change on another network of the same capture
    CAUSE = "cause"  # the change of another role
    MARK = "mark"  # a mark, made by a person with a watch


@dataclass(frozen=True)
class Latency:
    """How long after a change a role reacted, in ms, ascending.

    start:   what it is counted from; cause: the other role, or the role itself
    is_end:  it is counted from the end of the cause to the end of the reaction
    network: where the change was seen first
    limit_ms: how late it may be; is_published: a published limit, not one of the retrofit file
    missed:  changes of the cause that no reaction followed in time; with is_end it stayed on
    """

    role: str
    start: DelayStart
    cause: str
    network: str
    delays_ms: tuple[float, ...]
    limit_ms: float | None = None
    is_published: bool = False
    missed: int = 0
    is_end: bool = False

    @property
    def summary(self) -> tuple[float, float, float] | None:
        """Least, median (nearest rank) and largest delay."""
        if not self.delays_ms:
            return None
        return self.delays_ms[0], self.delays_ms[(len(self.delays_ms) - 1) // 2], self.delays_ms[-1]

    @property
    def is_too_late(self) -> bool:
        """Whether a delay that both ends of were seen is over the limit, or none came.

        A limit of the retrofit file is taken as one that is a tenth larger, a published one as it is. A mark
        is too coarse to tell.
        """
        if self.limit_ms is None or self.start is DelayStart.MARK:
            return False
        most = most_ms(self.limit_ms, is_published=self.is_published)
        return bool(self.missed) or any(delay > most for delay in self.delays_ms)


def most_ms(limit_ms: float, *, is_published: bool) -> float:
    """The largest delay that is not too late: a published limit as it is, one of a file and a tenth."""
    return limit_ms if is_published else 1.1 * limit_ms


@dataclass(frozen=True)
class ProvenNeed:
    """A need, or a role that an item supplies, as the captures from after the fitting show it."""

    item: str
    result: NeedResult
    is_supplied: bool = False
    latencies: tuple[Latency, ...] = ()

    @property
    def is_too_late(self) -> bool:
        """Whether it reacts later than it may."""
        return any(latency.is_too_late for latency in self.latencies)

    @property
    def foremost(self) -> tuple[Latency, ...]:
        """The delays to tell first: those over their limit, else the first one, and the first of an end."""
        late = tuple(latency for latency in self.latencies if latency.is_too_late)
        ends = (
            next((one for one in self.latencies if one.is_end is is_end), None) for is_end in (False, True)
        )
        return late or tuple(one for one in ends if one is not None)


@dataclass(frozen=True)
class ExerciseDone:
    """An exercise of a retrofit, and whether a mark of the captures from after shows it done.

    answered: marks of the role that it followed, of ``marks``
    has_moved: it took different states, marked or not
    """

    item: str
    role: str
    do: str
    state: str | int
    marks: int
    answered: int
    has_moved: bool

    @property
    def is_done(self) -> bool:
        """Whether anything of it was seen."""
        return self.marks > 0 or self.has_moved


@dataclass(frozen=True)
class Sameness:
    """Whether before and after are of one vehicle: None where nothing tells.

    vin:   the vehicle number of both
    names: J1939 device numbers that both have
    """

    is_same: bool | None
    vin: str | None = None
    names: int = 0


@dataclass(frozen=True)
class NetworkComparison:
    """What of a network was compared.

    before, after: distinct messages, those of diagnostics left out
    compared:  cyclic messages from before that were looked for
    unchanged: of those, as before in every way
    loads:     mean share of the bit rate before and after, in the same state
    sleeps:    seconds from terminal 15 off to silence, before and after
    """

    network: str
    before: int
    after: int
    compared: int
    unchanged: int
    loads: tuple[float, float] | None = None
    sleeps: tuple[float, float] | None = None


@dataclass(frozen=True)
class Proof:
    """What a job comes to after the fitting. ``netcheck.report`` has it in words."""

    job: str
    vehicle: str
    model_year: int
    verdict: ProveVerdict
    sameness: Sameness = Sameness(None)
    networks: tuple[NetworkComparison, ...] = ()
    changes: tuple[VehicleChange, ...] = ()
    promises: tuple[Promise, ...] = ()
    needs: tuple[ProvenNeed, ...] = ()
    exercises: tuple[ExerciseDone, ...] = ()
    notes: tuple[ProveNote, ...] = ()
    before: tuple[ChannelUse, ...] = ()
    after: tuple[ChannelUse, ...] = ()

    @property
    def unchanged(self) -> int:
        """Cyclic messages from before that are as they were."""
        return sum(network.unchanged for network in self.networks)

    @property
    def compared(self) -> int:
        """Cyclic messages from before that were looked for."""
        return sum(network.compared for network in self.networks)
