"""What a person does next, or minds: one frozen record for each, with what its sentence needs.

The sentences stand in ``netcheck.report``; a test there holds that no record is without.
"""

from __future__ import annotations

from typing import Literal

from netcheck.coding import CodingRow, Write
from netcheck.files import Fact, Phase, Where
from netcheck.records import dataclass
from netcheck.verdict import ChannelUse, Conflict, Elsewhere, OtherVin, Question, Reason, Verdict
from netcheck.work._exercises import Exercises

Place = Literal["engine", "yard", "road"]


@dataclass(frozen=True)
class Action:
    """Each is one of the records below."""


@dataclass(frozen=True)
class Caution(Action):
    """Nothing to tick off: something to mind. Each is one of the records below that say so."""


# ---------------------------------------------------------------------------- to mind


@dataclass(frozen=True)
class LeaveUnfitted(Caution):
    """Items that are no-go: the checklist has only what could change that."""

    items: tuple[str, ...]


@dataclass(frozen=True)
class OnlyListen(Caution):
    """The logger sends nothing, and whoever drives does nothing else."""


@dataclass(frozen=True)
class Mind(Caution):
    """A caution of a retrofit file. danger: of what, where the file says."""

    text: str
    danger: str = ""


@dataclass(frozen=True)
class MoveWithCare(Caution):
    """Exercises with the engine running, in the yard or on the road."""

    place: Place


@dataclass(frozen=True)
class CodeWithCare(Caution):
    """Who codes, and under which conditions."""


@dataclass(frozen=True)
class WaitForVerdict(Caution):
    """An unproven item: this phase waits."""

    item: str
    phase: Phase


@dataclass(frozen=True)
class FitWithSupplier(Caution):
    """Another item supplies what this one needs, and is not to be fitted."""

    supplier: str
    verdict: Verdict


# ---------------------------------------------------------------------------- at the desk


@dataclass(frozen=True)
class ResolveConflict(Action):
    """items: whose conflict it is, where the job has more than one item."""

    conflict: Conflict
    items: tuple[str, ...] = ()


@dataclass(frozen=True)
class AnswerQuestion(Action):
    """A question that is no fact. items: whose it is, where the job has more than one item."""

    question: Question
    items: tuple[str, ...] = ()


@dataclass(frozen=True)
class SettleNeeds(Action):
    """Needs of one reason that a desk can do something about.

    network: where the signals are, as far as the vehicle file says; several joined by "or"
    wired:   the network the part is wired to
    elsewhere: the roles' entries on other networks
    lost:    for a part that could move to another network: what else it needs and would lack there
    used_by: the module that uses the signals, where it is not the part itself
    file:    the vehicle file
    is_followed: other bits follow the marks of signals that never moved
    """

    reason: Reason
    roles: tuple[str, ...]
    signals: tuple[str, ...]
    messages: tuple[str, ...]
    networks: tuple[str, ...]
    wired: str | None
    year: int
    file: str
    elsewhere: tuple[Elsewhere, ...] = ()
    lost: tuple[str, ...] = ()
    used_by: str | None = None
    is_followed: bool = False
    items: tuple[str, ...] = ()


@dataclass(frozen=True)
class VerifyVehicle(Action):
    """A channel that may be of another vehicle: make sure before anything else."""

    use: ChannelUse


@dataclass(frozen=True)
class NameChannel(Action):
    """A channel that several networks fit about equally: say which it is."""

    use: ChannelUse


@dataclass(frozen=True)
class ClearUpVehicle(Action):
    """A capture or readout that tells another vehicle identification number: cleared up before all else."""

    told: OtherVin


@dataclass(frozen=True)
class LookUpFacts(Action):
    """Facts that the vehicle file does not state."""

    facts: tuple[str, ...]
    file: str


@dataclass(frozen=True)
class PlanBeforeTrip(Action):
    """What is changed at the desk may change what to capture. job: its file, None without one."""

    job: str | None


@dataclass(frozen=True)
class PlanAgain(Action):
    """Judge anew with what was found.

    trip: the vehicle was visited: captures, times and readouts join the job
    facts_file: the vehicle file that facts join, None where none was asked for
    """

    job: str | None
    job_name: str | None
    trip: bool
    facts_file: str | None


# ---------------------------------------------------------------------------- at the vehicle


@dataclass(frozen=True)
class Showing:
    """A role to show during a capture.

    do:    what the technician does; "" where no retrofit file says
    state: the state that the mark names
    mark:  what to note for a mark, where a need asks for answers: "state", where the vehicle file says which
           values are that state; "range", where the values themselves have to be noted; "" for no mark
    optional: no item depends on it
    where: what it takes: vehicle standing, engine running, yard or road
    """

    role: str
    do: str
    state: str | int
    mark: Literal["state", "range", ""]
    optional: bool
    where: Where = "standing"


@dataclass(frozen=True)
class CaptureTask:
    """One capture to take on one network.

    running:     roles whose message only has to be there
    silent:      roles whose sender was silent, had no value, or repeated itself
    misdeclared: channels that were taken for this network and are not
    """

    network: str
    showings: tuple[Showing, ...]
    running: tuple[str, ...]
    silent: tuple[str, ...]
    misdeclared: tuple[ChannelUse, ...]

    @property
    def seconds(self) -> int:
        """How long to record: our own rule of thumb, stillness around each exercise included."""
        return max(60, -(-(30 + 15 * len(self.showings)) // 30) * 30)


@dataclass(frozen=True)
class Record(Action):
    """A capture to take. tap: where the pair is, "" where the vehicle file does not say.

    is_first: no other capture comes before it on the trip
    """

    task: CaptureTask
    bitrate: int
    fd_bitrate: int | None
    tap: str
    is_first: bool = True


@dataclass(frozen=True)
class Show(Action):
    """An exercise during a capture.

    marked: the roles whose times are to be noted
    has_range: the values are to be noted too
    """

    group: Exercises
    marked: tuple[str, ...] = ()
    has_range: bool = False
    optional: bool = False


@dataclass(frozen=True)
class ModuleTitle:
    """A module by its key in the vehicle file, and its title where that says more."""

    key: str
    title: str = ""


@dataclass(frozen=True)
class ReadBlock(Action):
    """A coding block to read. ids: request and response, where the vehicle file has both."""

    module: ModuleTitle
    did: str
    length: int
    fields: tuple[str, ...]
    ids: tuple[int, int] | None = None


@dataclass(frozen=True)
class ReadBlocks(Action):
    """Coding blocks to read on the trip, each as (module, data identifier)."""

    blocks: tuple[tuple[str, str], ...]
    is_first: bool


@dataclass(frozen=True)
class WantedFact:
    """What an item needs a fact to be."""

    item: str
    any_of: tuple[Fact, ...]
    why: str = ""


@dataclass(frozen=True)
class FindFact(Action):
    """A fact to find out."""

    fact: str
    wanted: tuple[WantedFact, ...]


@dataclass(frozen=True)
class DoByHand(Action):
    """Hand work of a retrofit file."""

    text: str


# ---------------------------------------------------------------------------- coding


@dataclass(frozen=True)
class CodingTurn:
    """Where a block stands in the order of coding, and why.

    place:    its module's, 0 is first, 1000 last; None where the vehicle file has none
    afters:   fields ("module.field") that must be coded before it
    together: blocks ("module 0x2210") that belong to the same step
    """

    place: int | None = None
    why: str = ""
    afters: tuple[str, ...] = ()
    together: tuple[str, ...] = ()


@dataclass(frozen=True)
class WriteBlock(Action):
    """A coding block to write: old to new, one row a field."""

    module: ModuleTitle
    write: Write
    rows: tuple[CodingRow, ...]
    turn: CodingTurn | None = None


@dataclass(frozen=True)
class CodeOnceRead(Action):
    """A coding block whose bytes are not known yet."""

    module: ModuleTitle
    did: str
    rows: tuple[CodingRow, ...]
    turn: CodingTurn | None = None


@dataclass(frozen=True)
class HoldBlock(Caution):
    """A coding block that also holds a change for items that are no-go."""

    module: ModuleTitle
    did: str
    items: tuple[str, ...]
    turn: CodingTurn | None = None


@dataclass(frozen=True)
class ReadBack(Action):
    """Read the written blocks again and compare. job: its file, None without one."""

    job: str | None


# ---------------------------------------------------------------------------- in the end


@dataclass(frozen=True)
class FitAndProve(Action):
    """Items to fit, modules to code in their order, and blocks that have to wait.

    held:    blocks, as (module, data identifier), that also hold changes for ``others``
    """

    items: tuple[str, ...]
    modules: tuple[str, ...]
    held: tuple[tuple[str, str], ...] = ()
    others: tuple[str, ...] = ()


@dataclass(frozen=True)
class DoNotFit(Action):
    """Items that stay unfitted while their verdict stands.

    roles: those that a further capture may still show missing
    """

    items: tuple[str, ...]
    verdict: Verdict
    roles: tuple[str, ...] = ()
