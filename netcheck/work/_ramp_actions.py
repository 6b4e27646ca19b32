"""What is done at the vehicle once parts are fitted: power, wires, checks and proofs, one record for each."""

from __future__ import annotations

from typing import Final, Literal

from netcheck.files import Wire
from netcheck.records import dataclass
from netcheck.work._actions import Action, Caution
from netcheck.work._exercises import Exercises

SOURCES: Final = ("starter battery", "second battery", "inverter", "solar", "shore supply")


@dataclass(frozen=True)
class IdentifyVehicle(Action):
    """Compare the vehicle with the job. vin, registration: as the job has them; None and "" leave room."""

    vin: str | None = None
    registration: str = ""


@dataclass(frozen=True)
class ReadFaults(Action):
    """The fault memories of all modules. when: after is compared with before."""

    when: Literal["before", "after"]


@dataclass(frozen=True)
class MeasureWire(Action):
    """A wire of an item, to be measured before it is joined."""

    wire: Wire


@dataclass(frozen=True)
class JoinWire(Action):
    """A wire of an item, to be joined with the power off."""

    wire: Wire


@dataclass(frozen=True)
class StubLimit:
    """How long a stub to a network may be without a further look, in metres.

    tap: where the network's pair is; "" where the vehicle file does not say
    """

    network: str
    metres: float
    bitrate: int
    tap: str = ""


@dataclass(frozen=True)
class KeepStubsShort(Caution):
    """For parts that join a network's pair."""

    limits: tuple[StubLimit, ...]


@dataclass(frozen=True)
class PowerDown(Action):
    """Every source goes off, once for the whole job."""

    sources: tuple[str, ...] = SOURCES


@dataclass(frozen=True)
class PowerUp(Action):
    """Every source comes back, once for the whole job."""


@dataclass(frozen=True)
class CheckLamps(Action):
    """The lamps of airbag, stability control and brakes, at the first ignition-on after the work."""


@dataclass(frozen=True)
class TouchNothing(Action):
    """Nothing is pressed for a while: nothing may happen by itself."""


@dataclass(frozen=True)
class RecordAgain(Action):
    """The networks to record once more, as the proof."""

    networks: tuple[str, ...]


@dataclass(frozen=True)
class Prove(Action):
    """An exercise that shows needs of the fitted part.

    whys:      what the parts use them for
    suppliers: items that send them
    shows:     items that need the signal
    """

    group: Exercises
    whys: tuple[str, ...] = ()
    suppliers: tuple[str, ...] = ()
    is_after_coding: bool = False
    shows: tuple[str, ...] = ()


@dataclass(frozen=True)
class ProveWithoutExercise(Action):
    """Roles that no exercise shows."""

    roles: tuple[str, ...]


@dataclass(frozen=True)
class TellExclusive(Action):
    """Resources that do not work at the same time: told to whoever drives."""

    resources: tuple[str, ...]
    why: str = ""


@dataclass(frozen=True)
class HandOver(Action):
    """What the owner gets with the vehicle. has_coding: the old bytes of coding blocks are among it"""

    has_coding: bool
