"""One need of one item, with all that its rules look at."""

from __future__ import annotations

from dataclasses import dataclass

from netcheck.evidence import Observation
from netcheck.files import Need, UnlockedBy
from netcheck.roles import ResolvedRole
from netcheck.verdict._captures import JobCaptures, NetworkCaptures


@dataclass(frozen=True)
class Case:
    """A need against the vehicle file and the captures.

    network:   the network the item is wired to; None while undecided
    source:    the role's entry that counts, None where no entry fits
    elsewhere: entries of this model year on other networks, where there is none on the item's
    captures:      what was heard of the source's network, None without a source
    seen:      what was seen of the signal there
    locked_by: the coding that the role waits for; None if none is needed, or the readout shows it is set
    """

    need: Need
    network: str | None
    source: ResolvedRole | None
    elsewhere: tuple[ResolvedRole, ...]
    captures: NetworkCaptures | None
    seen: Observation
    locked_by: UnlockedBy | None = None

    @property
    def is_captured(self) -> bool:
        """Whether there is a capture to judge the signal by."""
        return self.captures is not None and self.captures.is_captured and self.has_signal

    @property
    def has_signal(self) -> bool:
        """Whether the DBC has all that the role's entry names."""
        return self.source is not None and self.source.lacks is None

    @property
    def has_active_states(self) -> bool:
        """Whether the vehicle file says which values are the active state."""
        return self.source is not None and self.source.watch is not None and bool(self.source.watch.active)

    @property
    def has_moved(self) -> bool:
        """Whether the signal took different states."""
        return self.seen.has_moved(has_active_states=self.has_active_states)


@dataclass(frozen=True)
class RoleChoice:
    """The entry of a role that an item's need is judged by."""

    source: ResolvedRole | None
    elsewhere: tuple[ResolvedRole, ...] = ()


def choose(entries: tuple[ResolvedRole, ...], network: str | None, taps: JobCaptures) -> RoleChoice:
    """The entry on the item's network; while that is undecided, the first whose network carries it.

    entries are those of the job's model year. With no entry on the item's network, all are ``elsewhere``.
    """
    if network is not None:
        here = next((source for source in entries if source.network == network), None)
        return RoleChoice(here, () if here else entries)
    carried = (source for source in entries if taps.observation(source.watch).carried)
    return RoleChoice(next(carried, entries[0] if entries else None))
