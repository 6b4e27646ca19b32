"""What could not be compared, or is worth knowing and no failure: frozen values, without a sentence."""

from __future__ import annotations

from netcheck.prove._change_model import ProvenMessage
from netcheck.records import dataclass
from netcheck.verdict import ChannelUse, VehicleDoubt


@dataclass(frozen=True)
class ProveNote:
    """What could not be compared, or is worth knowing and no failure."""


@dataclass(frozen=True)
class NotBefore(ProveNote):
    """A network that was captured after the fitting only."""

    network: str


@dataclass(frozen=True)
class SameRecording(ProveNote):
    """Captures from before and after that are one recording: it shows nothing of after the fitting."""

    before: str
    after: str


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
class SideDoubt(ProveNote):
    """What speaks for another vehicle among the captures from one side of the fitting."""

    told: VehicleDoubt


@dataclass(frozen=True)
class StayedAway(ProveNote):
    """Messages by the clock that stayed away for a while, which they did not before.

    A module that dropped out, or one that starts late where before nobody switched it on.
    """

    network: str
    messages: tuple[ProvenMessage, ...]


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
class DelayUnmeasured(ProveNote):
    """A limit for how fast a role follows another one, and no capture from after shows how fast it does."""

    item: str
    role: str
    cause: str
    is_end: bool


@dataclass(frozen=True)
class CodingUnread(ProveNote):
    """Blocks to be coded of which there is no readout from after the fitting."""

    blocks: tuple[str, ...]


@dataclass(frozen=True)
class CodingUncompared(ProveNote):
    """Blocks read after the fitting only: whether other bits changed, nobody can tell."""

    blocks: tuple[str, ...]


@dataclass(frozen=True)
class FaultsUncompared(ProveNote):
    """Stored faults after the fitting, of modules whose faults nobody read before."""

    faults: tuple[str, ...]


@dataclass(frozen=True)
class FaultsUnread(ProveNote):
    """Modules whose faults were read before and not after."""

    modules: tuple[str, ...]


@dataclass(frozen=True)
class ModulesUnread(ProveNote):
    """Modules that were read before, and of which nothing was read after."""

    modules: tuple[str, ...]


@dataclass(frozen=True)
class ReadoutsDiffer(ProveNote):
    """Blocks that the job's own readouts have otherwise than its captures; the job's count."""

    blocks: tuple[str, ...]


@dataclass(frozen=True)
class StrangeAfter(ProveNote):
    """A channel of a capture from after the fitting that is none of the vehicle's networks."""

    use: ChannelUse
