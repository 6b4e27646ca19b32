"""What the comparison of a vehicle before and after a fitting comes to: frozen values, without a sentence."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import ClassVar

from netcheck.coding import CodingRow
from netcheck.network import FrameId
from netcheck.verdict import ChannelUse, NeedResult


class ProveVerdict(StrEnum):
    """Of a job after the fitting."""

    PASS = "pass"
    PASS_WITH_NOTES = "pass-with-notes"
    NOT_SHOWN = "not-shown"
    FAIL = "fail"


class ChangeKind(StrEnum):
    """What can be different after a fitting; stable codes."""

    OTHER_VEHICLE = "other-vehicle"
    MESSAGE_GONE = "message-gone"
    MESSAGE_NEW = "message-new"
    LENGTH_CHANGED = "length-changed"
    PERIOD_CHANGED = "period-changed"
    COUNTER_FAILING = "counter-failing"
    CHECKSUM_FAILING = "checksum-failing"
    LOAD_HIGHER = "load-higher"
    ERROR_FRAMES = "error-frames"
    SLEEP_LATER = "sleep-later"
    CODING_CHANGED = "coding-changed"
    SIGNAL_STUCK = "signal-stuck"


@dataclass(frozen=True)
class ProvenMessage:
    """A message on a network; name: by its DBC, "" where that does not know it."""

    network: str
    frame_id: FrameId
    name: str = ""


@dataclass(frozen=True)
class VehicleState:
    """What the vehicle did during a part of a capture; None where the captures do not tell.

    is_moving: the road speed is not zero
    """

    terminal_15: bool | None = None
    engine: bool | None = None
    is_moving: bool | None = None

    def is_like(self, other: VehicleState, *, with_moving: bool = False) -> bool:
        """Whether nothing that both tell is different."""
        pairs = [(self.terminal_15, other.terminal_15), (self.engine, other.engine)]
        if with_moving:
            pairs.append((self.is_moving, other.is_moving))
        return all(None in pair or pair[0] == pair[1] for pair in pairs)


# ---- changes


@dataclass(frozen=True)
class VehicleChange:
    """Something that is different after the fitting. is_planned: the job says that it should be."""

    kind: ClassVar[ChangeKind]
    is_planned: bool = field(default=False, kw_only=True)


@dataclass(frozen=True)
class MessageChange(VehicleChange):
    """Something about one message."""

    message: ProvenMessage


@dataclass(frozen=True)
class OtherVehicle(VehicleChange):
    """The captures from after the fitting are of another vehicle.

    vins: vehicle numbers before and after, where both were seen
    names: J1939 device numbers that one side has and the other has not, before and after
    common, gone, new, resized: cyclic messages by their ids and lengths
    """

    kind = ChangeKind.OTHER_VEHICLE
    vins: tuple[str, str] | None = None
    names: tuple[int, int] = (0, 0)
    common: int = 0
    gone: int = 0
    new: int = 0
    resized: int = 0


@dataclass(frozen=True)
class MessageGone(MessageChange):
    """A cyclic message that does not come any more. awake_s: how long it was waited for."""

    kind = ChangeKind.MESSAGE_GONE
    period_ms: float
    awake_s: float
    senders: tuple[str, ...] = ()


@dataclass(frozen=True)
class MessageNew(MessageChange):
    """A cyclic message that did not come before."""

    kind = ChangeKind.MESSAGE_NEW
    period_ms: float
    count: int


@dataclass(frozen=True)
class LengthChanged(MessageChange):
    """Payload lengths that were not there before. before, after: length -> frames, as pairs."""

    kind = ChangeKind.LENGTH_CHANGED
    before: tuple[tuple[int, int], ...]
    after: tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class PeriodChanged(MessageChange):
    """It comes faster or slower than the times between its frames varied before.

    before, after: median gap in ms; jitter_ms: 1st and 99th percentile before
    mean_ms: mean gap after, which says that frames are missing where the median does not
    """

    kind = ChangeKind.PERIOD_CHANGED
    before_ms: float
    jitter_ms: tuple[float, float]
    after_ms: float
    mean_ms: float


@dataclass(frozen=True)
class CounterFailing(MessageChange):
    """A rolling counter that went up by one each frame and does not any more. wrong, standing: of steps."""

    kind = ChangeKind.COUNTER_FAILING
    bit: int
    width: int
    steps: int
    wrong: int
    standing: int


@dataclass(frozen=True)
class ChecksumFailing(MessageChange):
    """A checksum that fitted and does not any more. wrong: of frames."""

    kind = ChangeKind.CHECKSUM_FAILING
    byte: int
    frames: int
    wrong: int


@dataclass(frozen=True)
class SignalStuck(MessageChange):
    """A signal that moved before and stands still now, or that did not take a state that was marked.

    windows: stretches of ten seconds in which it moved before; held: the value it has now
    marks:   marks of the role after the fitting, none of which it followed
    """

    kind = ChangeKind.SIGNAL_STUCK
    signal: str
    windows: int = 0
    seconds: float = 0.0
    held: float | None = None
    role: str | None = None
    marks: int = 0


@dataclass(frozen=True)
class LoadHigher(VehicleChange):
    """The network is fuller than what the job adds explains. Shares of the bit rate in the same state."""

    kind = ChangeKind.LOAD_HIGHER
    network: str
    state: VehicleState
    before: float
    after: float
    planned: float


@dataclass(frozen=True)
class ErrorFramesMore(VehicleChange):
    """Error frames that were not there before. Times awake in seconds."""

    kind = ChangeKind.ERROR_FRAMES
    network: str
    before: int
    before_s: float
    after: int
    after_s: float


@dataclass(frozen=True)
class SleepLater(VehicleChange):
    """The network falls asleep later after terminal 15 went off. after_s: None where it was awake to the end.

    waited_s: how long was recorded after terminal 15 went off
    """

    kind = ChangeKind.SLEEP_LATER
    network: str
    before_s: float
    after_s: float | None
    waited_s: float


@dataclass(frozen=True)
class CodingChanged(VehicleChange):
    """Coding that is not as before; values as labels, or numbers where they have none.

    field_name: "" for bits that the vehicle file does not name
    byte, bit, width: where such bits stand: first byte, least significant bit in it, number of bits
    """

    kind = ChangeKind.CODING_CHANGED
    module: str
    did: str
    field_name: str
    before: str | int | None
    after: str | int | None
    byte: int | None = None
    bit: int = 0
    width: int = 0


# ---- what was promised


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


# ---- notes


@dataclass(frozen=True)
class ProveNote:
    """What could not be compared, or is worth knowing and no failure."""


@dataclass(frozen=True)
class NotBefore(ProveNote):
    """A network that was captured after the fitting only."""

    network: str


@dataclass(frozen=True)
class NotAfter(ProveNote):
    """A network that was captured before the fitting only; what it carries is not shown."""

    network: str


@dataclass(frozen=True)
class WithoutTimes(ProveNote):
    """A network whose captures have no time stamps on one side: only what came can be compared."""

    network: str


@dataclass(frozen=True)
class VehicleUntold(ProveNote):
    """Nothing in the captures tells this vehicle from others of the model."""


@dataclass(frozen=True)
class SeldomGone(ProveNote):
    """Messages that did not come after and are no loss that can be told: seldom, or not by the clock."""

    network: str
    messages: tuple[ProvenMessage, ...]


@dataclass(frozen=True)
class SeldomNew(ProveNote):
    """Messages that came only after, and not by the clock."""

    network: str
    messages: tuple[ProvenMessage, ...]


@dataclass(frozen=True)
class NotAwaited(ProveNote):
    """Cyclic messages from before that nobody waited for long enough, in the state that they come in."""

    network: str
    messages: tuple[ProvenMessage, ...]


@dataclass(frozen=True)
class PeriodsUncompared(ProveNote):
    """Messages of which no state of the vehicle has enough frames before and after to compare periods."""

    network: str
    messages: tuple[ProvenMessage, ...]


@dataclass(frozen=True)
class ChecksumsUncompared(ProveNote):
    """Counters and checksums known from before, of messages with too few frames after."""

    network: str
    messages: tuple[ProvenMessage, ...]


@dataclass(frozen=True)
class LoadUncompared(ProveNote):
    """No time in which terminal 15 and the engine were alike before and after."""

    network: str


@dataclass(frozen=True)
class SleepUncompared(ProveNote):
    """Falling asleep was recorded on one side only. is_after: it is the side from after the fitting."""

    network: str
    is_after: bool


@dataclass(frozen=True)
class FewErrorFrames(ProveNote):
    """One or two error frames more than before: no proof of anything."""

    network: str
    count: int


@dataclass(frozen=True)
class NotOnTheNetwork(ProveNote):
    """A need that is met by a wire of its own, which no capture shows."""

    item: str
    role: str
    place: str


@dataclass(frozen=True)
class SupplyUnmapped(ProveNote):
    """Roles that an item supplies and that no signal of the vehicle file plays on its network."""

    item: str
    roles: tuple[str, ...]


@dataclass(frozen=True)
class ExercisesOpen(ProveNote):
    """Exercises of an item that no capture from after shows: no mark of the role, and it never moved."""

    item: str
    roles: tuple[str, ...]


@dataclass(frozen=True)
class OptionalNeedOpen(ProveNote):
    """Optional needs that are not shown."""

    item: str
    roles: tuple[str, ...]


@dataclass(frozen=True)
class CodingUnread(ProveNote):
    """Blocks to be coded of which there is no readout from after the fitting."""

    blocks: tuple[str, ...]


@dataclass(frozen=True)
class CodingUncompared(ProveNote):
    """Blocks read after the fitting only: whether other bits changed, nobody can tell."""

    blocks: tuple[str, ...]


@dataclass(frozen=True)
class StrangeAfter(ProveNote):
    """A channel of a capture from after the fitting that is none of the vehicle's networks."""

    use: ChannelUse


# ---- needs, supplies, exercises, latencies


class DelayStart(StrEnum):
    """What a delay is counted from."""

    COPY = "copy"  # the same change on another network of the same capture
    CAUSE = "cause"  # the change of another role
    MARK = "mark"  # a mark, made by a person with a watch


@dataclass(frozen=True)
class Latency:
    """How long after a change a role reacted, in ms, ascending.

    start:   what it is counted from; cause: the other role, or the role itself
    network: where the change was seen first
    limit_ms: how late it may be; is_published: a published limit, not one of the retrofit file
    missed:  changes of the cause that no reaction followed in time
    """

    role: str
    start: DelayStart
    cause: str
    network: str
    delays_ms: tuple[float, ...]
    limit_ms: float | None = None
    is_published: bool = False
    missed: int = 0

    @property
    def summary(self) -> tuple[float, float, float] | None:
        """Least, median (nearest rank) and largest delay."""
        if not self.delays_ms:
            return None
        return self.delays_ms[0], self.delays_ms[(len(self.delays_ms) - 1) // 2], self.delays_ms[-1]

    @property
    def is_too_late(self) -> bool:
        """Whether a delay that both ends of were seen is over the limit by more than a tenth, or none came.

        A mark is too coarse to tell.
        """
        if self.limit_ms is None or self.start is DelayStart.MARK:
            return False
        return bool(self.missed) or any(delay > 1.1 * self.limit_ms for delay in self.delays_ms)


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
