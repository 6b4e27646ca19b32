"""Conflicts of an item: one frozen record for each thing that stops it as the job has it.

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
