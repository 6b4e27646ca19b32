"""What a captured conversation says of a vehicle's modules: frozen values, without a sentence."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from enum import StrEnum

from netcheck.diagnostics._ids import Address
from netcheck.diagnostics._transfer import Lapse
from netcheck.files import FaultCode, When
from netcheck.records import dataclass


class ReadoutFindingKind(StrEnum):
    """What could not be taken from a conversation, or does not fit; stable codes."""

    SEGMENT_LOST = "segment-lost"  # a message could not be put together
    NO_ANSWER = "no-answer"
    ANSWER_ALONE = "answer-alone"  # an answer to no request that was seen
    SECOND_ANSWER = "second-answer"  # one more answer to a request: two modules on one address
    STRANGE_SERVICE = "strange-service"
    WRONG_LENGTH = "wrong-length"  # a message, or a block, with more or fewer bytes than it must have
    NOT_SPLIT = "not-split"  # an answer with several identifiers whose borders are not known
    REPORT_NOT_READ = "report-not-read"  # a fault report of a kind that netcheck does not read
    SHARED_ADDRESS = "shared-address"  # the vehicle file has several modules on it
    VIN_CHANGED = "vin-changed"  # a module told two vehicle numbers
    VIN_DIFFERS = "vin-differs"  # modules tell different ones
    LINE_NOT_READ = "line-not-read"  # of a text


@dataclass(frozen=True)
class ReadoutFinding:
    """One finding; of equal ones the first, and how many there were.

    file, time, frame: the capture, seconds from its first frame, number of the frame (1 is the first)
    line:              of a text; of a capture where each of its lines is a frame
    did:               the identifier that it is about; ``service`` the service
    lapse:             why a message is not whole
    found, due:        bytes that came, and that should have
    names:             modules, vehicle numbers or texts
    """

    kind: ReadoutFindingKind
    file: str = ""
    time: float | None = None
    frame: int | None = None
    did: int | None = None
    service: int | None = None
    lapse: Lapse | None = None
    found: int | None = None
    due: int | None = None
    names: tuple[str, ...] = ()
    count: int = 1
    line: int | None = None


@dataclass(frozen=True)
class BlockRead:
    """A coding block as read: the last time before a write and the last time after it; None if not read."""

    did: int
    before: bytes | None
    after: bytes | None

    @property
    def last(self) -> bytes:
        """The last value."""
        return self.after if self.after is not None else self.before or b""


@dataclass(frozen=True)
class TextRead:
    """An identification as read; see ``BlockRead``."""

    did: int
    before: str | None
    after: str | None

    @property
    def last(self) -> str:
        """The last value."""
        return self.after if self.after is not None else self.before or ""


@dataclass(frozen=True)
class FaultRead:
    """A fault code of a report.

    kind: "stored", "pending" or "permanent" from on-board diagnostics, which tell no status; else ""
    """

    fault: FaultCode
    kind: str = ""


@dataclass(frozen=True)
class FaultsRead:
    """Fault codes before a write and after it; None where no report was read."""

    before: tuple[FaultRead, ...] | None = None
    after: tuple[FaultRead, ...] | None = None

    @property
    def last(self) -> tuple[FaultRead, ...] | None:
        """The last report."""
        return self.after if self.after is not None else self.before


@dataclass(frozen=True)
class SeenWrite:
    """A write by identifier. accepted: None where no answer was seen; code: why it was refused

    session: of the module when it came; None where none was seen to begin
    """

    did: int
    data: bytes
    file: str
    time: float | None
    accepted: bool | None
    code: int | None = None
    session: int | None = None


@dataclass(frozen=True)
class Refusal:
    """A negative response, and how often it came. did: of a read or a write"""

    service: int
    code: int
    did: int | None = None
    count: int = 1


@dataclass(frozen=True)
class SeenService:
    """A request that changes or unlocks something, and its outcome. Bytes of keys and seeds are not kept.

    function: the sub-function, such as the level of security access or the kind of reset
    """

    service: int
    function: int | None
    accepted: int
    refused: int
    unanswered: int


@dataclass(frozen=True)
class FaultLamp:
    """What mode 01 says of faults: whether the lamp is commanded on, and how many are stored."""

    is_on: bool
    stored: int


@dataclass(frozen=True)
class ModuleReading:
    """One module. name: of the vehicle file, None where it has none for these addresses

    requests: None where no tester's id is known; target: the address byte of extended or mixed addressing
    answered: whether it answered anything; asked: requests to it
    """

    name: str | None
    channel: str
    request: Address | None
    response: Address | None
    target: int | None
    asked: int
    answered: int
    identification: tuple[TextRead, ...] = ()
    blocks: tuple[BlockRead, ...] = ()
    faults: FaultsRead = FaultsRead()
    refusals: tuple[Refusal, ...] = ()
    writes: tuple[SeenWrite, ...] = ()
    services: tuple[SeenService, ...] = ()
    sessions: tuple[int, ...] = ()
    lamp: FaultLamp | None = None
    findings: tuple[ReadoutFinding, ...] = ()


@dataclass(frozen=True)
class Readout:
    """What captures or texts tell of the modules. findings: of no single module

    has_writes: whether a write was accepted, so that there is a before and an after
    """

    files: tuple[str, ...]
    modules: tuple[ModuleReading, ...]
    findings: tuple[ReadoutFinding, ...] = ()
    has_writes: bool = False
    when: When = "before"
    warnings: tuple[str, ...] = field(default=())


Lengths = Mapping[int, int]  # data identifier → bytes
