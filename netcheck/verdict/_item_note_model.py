"""Notes on an item: one frozen record for each thing that is worth saying and changes no verdict.

What each says in words stands in ``netcheck.report``; a test there holds that none is without.
"""

from __future__ import annotations

from fractions import Fraction

from netcheck.network import FrameId
from netcheck.records import dataclass


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


@dataclass(frozen=True)
class ModuleLeft(Note):
    """Coding fields of a module that the item works with, and that the job leaves as they are.

    fields: name and the label or number it has now; None where nobody has read it
    """

    module: str
    fields: tuple[tuple[str, str | int | None], ...]
