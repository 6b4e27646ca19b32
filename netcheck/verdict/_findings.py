"""Conflicts, questions and notes of an item: one frozen record for each thing that can be said.

What each says in words stands in ``netcheck.report``; a test there holds that none is without.
"""

from __future__ import annotations

from enum import StrEnum
from fractions import Fraction
from typing import ClassVar

from netcheck.coding import Clash
from netcheck.files import Fact
from netcheck.network import FrameId
from netcheck.records import dataclass


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
    RESOURCE_MISSING = "resource-missing"


class QuestionKind(StrEnum):
    """What nobody has stated; stable codes."""

    FACT = "fact"
    USED_BY = "used-by"
    GATEWAY = "gateway"
    SUPPLY_ID = "supply-id"
    RESOURCE = "resource"
    EDITION = "edition"


# ---------------------------------------------------------------------------- conflicts


@dataclass(frozen=True)
class Conflict:
    """Something that stops an item as the job has it. Each is one of the records below."""

    kind: ClassVar[ConflictKind]


@dataclass(frozen=True)
class IdInUse(Conflict):
    """An id that the item will send was seen there already. message, senders: by the DBC."""

    kind = ConflictKind.ID_IN_USE

    frame_id: FrameId
    network: str
    frames: int
    message: str | None = None
    senders: tuple[str, ...] = ()


@dataclass(frozen=True)
class IdSentTwice(Conflict):
    """Two items send one id on one network."""

    kind = ConflictKind.ID_IN_USE

    frame_id: FrameId
    network: str
    first: str
    second: str


@dataclass(frozen=True)
class SourcePresent(Conflict):
    """A role that the item supplies is there already, in ``title`` (message and signal)."""

    kind = ConflictKind.TWO_SOURCES

    role: str
    network: str
    title: str
    frames: int


@dataclass(frozen=True)
class SuppliedTwice(Conflict):
    """Two items supply one role on one network."""

    kind = ConflictKind.TWO_SOURCES

    role: str
    network: str
    first: str
    second: str


@dataclass(frozen=True)
class FactMismatch(Conflict):
    """A fact of the vehicle is none of those that the part fits."""

    kind = ConflictKind.FACT_MISMATCH

    fact: str
    value: Fact
    any_of: tuple[Fact, ...]
    why: str = ""


@dataclass(frozen=True)
class ModuleAbsent(Conflict):
    """A module that the part needs is not on the vehicle.

    year:    the model year that lacks it, None where the vehicle file has it in no year
    modules: those that the vehicle file has
    """

    kind = ConflictKind.MODULE_ABSENT

    module: str
    year: int | None
    modules: tuple[str, ...]
    why: str = ""


@dataclass(frozen=True)
class CodingConflict(Conflict):
    """Two items want different coding."""

    kind = ConflictKind.CODING_CONFLICT

    clash: Clash


@dataclass(frozen=True)
class CodingUndefined(Conflict):
    """A coding field that the vehicle file lacks.

    year:    the model year that lacks the module
    is_in_file: the vehicle file has the module in some year
    has_module: this model year has the module, but not the field
    similar: what the vehicle file has with a name much like it
    """

    kind = ConflictKind.CODING_UNDEFINED

    module: str
    field: str
    value: str | int
    has_module: bool
    is_in_file: bool
    similar: tuple[str, ...] = ()


@dataclass(frozen=True)
class LostSource(Conflict):
    """What the item needs goes away with what the job replaces.

    title:   message and signal of the old source
    by_role: the role is replaced, not the module that sends it
    """

    kind = ConflictKind.LOST_SOURCE

    role: str
    network: str
    title: str
    by_role: bool


@dataclass(frozen=True)
class LateMessage:
    """A message whose worst-case response time is beyond its period; times in s, None: without a bound.

    before_s: its response time without the items; None for a new one
    """

    frame_id: FrameId
    name: str | None
    period_s: float
    worst_s: float | None
    before_s: float | None


@dataclass(frozen=True)
class Overload(Conflict):
    """The network has no room for what the job's items will send there.

    before, after: share of the wire in the busiest second
    items:         those that send there
    """

    kind = ConflictKind.OVERLOAD

    network: str
    bitrate: int
    before: Fraction
    after: Fraction
    items: tuple[str, ...]


@dataclass(frozen=True)
class ResourceMissing(Conflict):
    """The job takes more of a resource than the vehicle and its parts give together.

    of_vehicle: how much the vehicle gives; 0 where no fact states it
    taken_by:   items that take the vehicle's away
    users, givers: (item, how much), in the job's order
    """

    kind = ConflictKind.RESOURCE_MISSING

    resource: str
    needed: int
    of_vehicle: int
    taken_by: tuple[str, ...]
    users: tuple[tuple[str, int], ...]
    givers: tuple[tuple[str, int], ...]
    why: str = ""


# ---------------------------------------------------------------------------- questions


@dataclass(frozen=True)
class Question:
    """Something that nobody has stated and the verdict needs. Each is one of the records below."""

    kind: ClassVar[QuestionKind]

    @property
    def subject(self) -> str:
        """What it is about: a fact, a role, a module, a resource."""
        raise NotImplementedError


@dataclass(frozen=True)
class FactUnknown(Question):
    """A fact that the part must match and the vehicle file does not state."""

    kind = QuestionKind.FACT

    fact: str
    any_of: tuple[Fact, ...]
    why: str = ""

    @property
    def subject(self) -> str:
        """The fact's name."""
        return self.fact


@dataclass(frozen=True)
class UserAbsent(Question):
    """The module that uses a signal is not on this model year: the need was judged on the item's network."""

    kind = QuestionKind.USED_BY

    module: str
    role: str
    modules: tuple[str, ...] = ()

    @property
    def subject(self) -> str:
        """The module's name."""
        return self.module


@dataclass(frozen=True)
class PassedOn(Question):
    """A role is replaced and supplied again on another network only: does a gateway pass it on?

    networks: where it is supplied; supplier: by which item
    """

    kind = QuestionKind.GATEWAY

    role: str
    network: str
    networks: tuple[str, ...]
    supplier: str

    @property
    def subject(self) -> str:
        """The role."""
        return self.role


@dataclass(frozen=True)
class SupplyIdUnknown(Question):
    """A part supplies a role that another needs, without saying with which id."""

    kind = QuestionKind.SUPPLY_ID

    role: str
    supplier: str
    user: str

    @property
    def subject(self) -> str:
        """The role."""
        return self.role


@dataclass(frozen=True)
class ResourceUnknown(Question):
    """No part of the job gives a resource, and no fact states whether the vehicle has it."""

    kind = QuestionKind.RESOURCE

    resource: str
    count: int
    why: str = ""

    @property
    def subject(self) -> str:
        """The resource."""
        return self.resource


@dataclass(frozen=True)
class KnownEdition:
    """Numbers as the vehicle file has them, and the model years; () and None where it does not say."""

    part: tuple[str, ...]
    software: tuple[str, ...]
    hardware: tuple[str, ...]
    years: tuple[int, int] | None


@dataclass(frozen=True)
class EditionOpen(Question):
    """Whether the vehicle file's layout holds for the module that is fitted.

    is_other: what it reports is of no edition that the file knows; else nobody has read what would tell
    editions: those that the layout holds for
    told:     identifier and number of what was read
    is_coded: the item codes the module; else it sends what the item needs
    """

    kind = QuestionKind.EDITION

    module: str
    is_other: bool
    editions: tuple[KnownEdition, ...]
    told: tuple[tuple[int, str], ...]
    is_coded: bool

    @property
    def subject(self) -> str:
        """The module's name."""
        return self.module


# ---------------------------------------------------------------------------- notes


@dataclass(frozen=True)
class Note:
    """What is worth saying of an item and changes no verdict. Each is one of the records below."""


@dataclass(frozen=True)
class IdleReplacement(Note):
    """The item replaces a module that the vehicle does not have."""

    module: str


@dataclass(frozen=True)
class IdsUnchecked(Note):
    """Whether ids are free is not known: the network was not captured."""

    frame_ids: tuple[FrameId, ...]
    network: str


@dataclass(frozen=True)
class IdInDbc(Note):
    """The DBC gives an id that the item will send to a message that was not seen."""

    frame_id: FrameId
    message: str
    is_captured: bool


@dataclass(frozen=True)
class RoomUnknown(Note):
    """Whether there is room for ids is not known: the retrofit file gives no period or length."""

    frame_ids: tuple[FrameId, ...]
    network: str


@dataclass(frozen=True)
class LoadAdded(Note):
    """What the item's messages do to a network that has room for them.

    already: messages seen there that may miss their period now, in the worst case
    late:    messages that may miss it only with the item's, and its own that may
    """

    network: str
    bitrate: int
    before: Fraction
    after: Fraction
    already: int
    late: tuple[LateMessage, ...] = ()


@dataclass(frozen=True)
class OptionalLoss(Note):
    """An optional need loses its source to a part that the job replaces."""

    role: str


@dataclass(frozen=True)
class ResourceContested(Note):
    """Items that can be fitted take together more of a resource than those give that can be fitted."""

    resource: str
    needed: int
    ready: int
    users: tuple[str, ...]


@dataclass(frozen=True)
class ResourcesExclusive(Note):
    """Resources of the part that cannot be used at the same time."""

    resources: tuple[str, ...]
    why: str = ""


@dataclass(frozen=True)
class CodingLeft(Note):
    """A coding field that belongs to roles the item works on, and that the job leaves as it is.

    value: label or number it has now; None where nobody has read it
    """

    module: str
    field: str
    roles: tuple[str, ...]
    value: str | int | None
