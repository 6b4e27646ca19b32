"""What a new file starts from: what was given, and what DBC files and captures tell."""

from __future__ import annotations

from netcheck.files import AskedFact, AskedResource, RoleSource
from netcheck.find import ModuleProposal, RoleProposals
from netcheck.records import dataclass


@dataclass(frozen=True)
class SeenNetwork:
    """A channel of a capture that is a network, or may be.

    identity: as a survey tells it: identified or doubtful
    """

    capture: str
    channel: str
    identity: str
    explained: int
    ids: int


@dataclass(frozen=True)
class FoundRole:
    """A role entry of a draft: captures with marks showed it. file: the vehicle file of the draft"""

    role: str
    source: RoleSource
    file: str


@dataclass(frozen=True)
class NetworkStart:
    """A network of a new vehicle file.

    bitrate: None where nobody gave one; dbc: paths from the new file
    found:   entries of drafts, which count before names do
    """

    name: str
    dbc: tuple[str, ...]
    bitrate: int | None
    seen: tuple[SeenNetwork, ...]
    roles: tuple[RoleProposals, ...]
    found: tuple[FoundRole, ...] = ()


@dataclass(frozen=True)
class VehicleStart:
    """A new vehicle file.

    strangers: channels of captures that fit none of the networks
    facts, resources: what the shipped retrofits ask for
    """

    name: str
    model_years: tuple[int, int]
    networks: tuple[NetworkStart, ...]
    modules: tuple[ModuleProposal, ...]
    strangers: tuple[tuple[str, str], ...]
    facts: tuple[AskedFact, ...]
    resources: tuple[AskedResource, ...]


@dataclass(frozen=True)
class RetrofitStart:
    """A new retrofit file. needs and supplies: roles."""

    name: str
    title: str
    needs: tuple[str, ...]
    supplies: tuple[str, ...]


@dataclass(frozen=True)
class JobStart:
    """A new job file. items: retrofit and network ("" while undecided); captures: path and its channels.

    facts, resources: what its retrofits ask for, and the vehicle file does not state
    """

    vehicle: str
    model_year: int
    is_year_given: bool
    items: tuple[tuple[str, str], ...]
    captures: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]
    facts: tuple[AskedFact, ...] = ()
    resources: tuple[AskedResource, ...] = ()
