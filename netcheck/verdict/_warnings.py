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
class OtherVin(PlanWarning):
    """A capture or a readout tells another vehicle identification number than the job, or than one before it.

    file:     the capture; for a readout its place, such as ``readout[2]``
    channel:  of the capture; for a readout its module
    expected: the job's number, or that of ``other``, which is "" for the job
    is_read:  a readout tells it
    """

    file: str
    channel: str
    vin: str
    expected: str
    other: str = ""
    is_read: bool = False


@dataclass(frozen=True)
class ClocksApart(PlanWarning):
    """Two captures of the same time whose loggers' clocks differ: ``second`` is stamped so much later."""

    first: str
    second: str
    seconds: float
    moments: int
