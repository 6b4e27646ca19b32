"""One need of one item, with all that its rules look at."""

from __future__ import annotations

from netcheck.evidence import Observation
from netcheck.files import Need, UnlockedBy
from netcheck.records import dataclass
from netcheck.roles import ResolvedRole
from netcheck.verdict._captures import JobCaptures, NetworkCaptures


@dataclass(frozen=True)
class Case:
    """A need against the vehicle file and the captures.

    network:   the network the item is wired to, or that of the module that uses the signal; None while
               undecided
    source:    the role's entry that counts, None where no entry fits
    elsewhere: entries of this model year on other networks, where there is none on the need's
    captures:  what was captured of the source's network, None without a source
    seen:      what was seen of the signal there
    locked_by: the coding that the role waits for; None if it waits for none, or a readout shows it set
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

    @property
    def has_answered(self) -> bool:
        """Whether there are marks, and the role followed all of them."""
        marks = self.seen.marks
        return bool(marks) and all(mark.is_answered for mark in marks)

    @property
    def is_sent_at_changes(self) -> bool:
        """Whether a change of the signal is sent at once."""
        return self.seen.is_sent_at_changes(has_active_states=self.has_active_states)


@dataclass(frozen=True)
class RoleChoice:
    """The entry of a role that an item's need is judged by."""

    source: ResolvedRole | None
    elsewhere: tuple[ResolvedRole, ...] = ()


def choose(
    entries: tuple[ResolvedRole, ...], networks: tuple[str, ...] | None, captures: JobCaptures
) -> RoleChoice:
    """The entry on one of the need's networks; of several, on a captured one that carries it, if there is.

    entries are those of the job's model year. networks is None while that is undecided: any will do. With no
    entry on them, all are ``elsewhere``.
    """
    here = [entry for entry in entries if networks is None or entry.network in networks]
    if not here:
        return RoleChoice(None, entries)
    here.sort(key=lambda entry: not captures.by_network[entry.network].is_captured)
    carried = (entry for entry in here if captures.observation(entry.watch).carried)
    return RoleChoice(next(carried, here[0]) if networks is None or len(networks) > 1 else here[0])
