"""What a person should know about the files and captures of a plan: one frozen record for each."""

from __future__ import annotations

from netcheck.database import DbcRepair
from netcheck.records import dataclass
from netcheck.verdict._model import ChannelUse


@dataclass(frozen=True)
class PlanWarning:
    """Each is one of the records below."""


@dataclass(frozen=True)
class ToldByReader(PlanWarning):
    """What the reader of a file tells, as a text. file: "" where the text names it."""

    text: str
    file: str = ""


@dataclass(frozen=True)
class RepairedDbc(PlanWarning):
    """What the loader put right in a DBC."""

    repair: DbcRepair


@dataclass(frozen=True)
class NumberTooLarge(PlanWarning):
    """A raw value of a role (``key`` of its entry) that its signal cannot hold."""

    file: str
    role: str
    key: str
    number: int
    width: int
    is_signed: bool
    title: str
    low: int
    high: int


@dataclass(frozen=True)
class SeveralEntries(PlanWarning):
    """Entries of one role for one network and model year, of which only the first counts."""

    file: str
    role: str
    network: str
    count: int
    year: int
    first: str


@dataclass(frozen=True)
class ModuleWithoutNode(PlanWarning):
    """A part replaces a module whose node in the DBC the vehicle file does not name."""

    file: str
    module: str


@dataclass(frozen=True)
class NodeSendsNothing(PlanWarning):
    """A part replaces a module whose node sends no message by any DBC of the vehicle."""

    file: str
    module: str
    node: str


@dataclass(frozen=True)
class SharedBits(PlanWarning):
    """A coding field to be changed has bits in common with other fields."""

    file: str
    module: str
    did: int
    field: str
    others: tuple[str, ...]


@dataclass(frozen=True)
class StrangeChannel(PlanWarning):
    """A channel that is none of the vehicle's networks."""

    use: ChannelUse


@dataclass(frozen=True)
class DoubtfulChannel(PlanWarning):
    """A channel whose ids may fit its network by accident."""

    use: ChannelUse


@dataclass(frozen=True)
class MarksUnused(PlanWarning):
    """Marks of a role that no need can be judged by.

    networks: those that carry it and are not in the capture; () where the vehicle file does not map it
    """

    role: str
    capture: str
    networks: tuple[str, ...]


@dataclass(frozen=True)
class VehicleDoubt(PlanWarning):
    """What speaks for another vehicle than the job's: one of the three below.

    file: the capture; for a readout its place, such as ``readout[2]``
    """

    file: str


@dataclass(frozen=True)
class OtherVin(VehicleDoubt):
    """A capture or a readout tells another vehicle identification number than the job, or than one before it.

    channel:  of the capture; for a readout its module
    expected: the job's number, or that of ``other``, which is "" for the job
    is_read:  a readout tells it
    """

    channel: str
    vin: str
    expected: str
    other: str = ""
    is_read: bool = False


@dataclass(frozen=True)
class OtherDevices(VehicleDoubt):
    """Two captures of a network in which no J1939 device number is the same.

    names, other_names: how many numbers this capture and the other one have
    """

    other: str
    network: str
    names: int
    other_names: int


@dataclass(frozen=True)
class OtherIds(VehicleDoubt):
    """Two captures of a network with too few ids and lengths in common, of which this fits its DBC worse.

    alike:    messages that both have, with the same length; of ``messages`` in all
    fits, other_fits: how many of the ids the DBC explains, and how many there are
    """

    other: str
    network: str
    alike: int
    messages: int
    fits: tuple[int, int]
    other_fits: tuple[int, int]


@dataclass(frozen=True)
class ClocksApart(PlanWarning):
    """Two captures of the same time whose loggers' clocks differ: ``second`` is stamped so much later."""

    first: str
    second: str
    seconds: float
    moments: int
