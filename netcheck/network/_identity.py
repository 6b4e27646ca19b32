"""Which of a vehicle's networks a channel is, by the ids it carries."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping
from dataclasses import replace
from enum import StrEnum
from typing import Final

from netcheck.database import Database, Message, parameter_group
from netcheck.network._traffic import FrameId, Traffic
from netcheck.records import dataclass

LEAST_IDS: Final = 3  # or all, where a network has fewer messages
_DEVIATIONS: Final = 4  # of a count by chance, whose variance is its mean
_BROADCAST: Final = range(0x7DF, 0x7F0)  # diagnostic requests and answers of ISO 15765-4, 11-bit
_NORMAL_FIXED: Final = frozenset({0x18DA, 0x18DB})  # the upper half of those with 29 bits


class IdentityLevel(StrEnum):
    """How well a channel is known to be a network."""

    IDENTIFIED = "identified"
    DOUBTFUL = "doubtful"  # some ids fit, too few to trust what the DBC says
    NONE = "none"


def less_than_two_thirds(explained: int, ids: int) -> bool:
    """Whether a DBC explains so few of a channel's ids that it may be of another edition of the network."""
    return 3 * explained < 2 * ids


@dataclass(frozen=True)
class Candidate:
    """How many of a channel's ids one network's DBC explains.

    least:    how many it must explain for the channel to be this network at all
    ids:      distinct ids of the channel
    messages: of the DBC
    by_chance: how many of the channel's 11-bit ids a DBC of that size would have if they were any ids
    is_beyond_chance: a DBC of any other vehicle would hardly explain as many
    """

    network: str
    explained: int
    least: int
    ids: int = 0
    messages: int = 0
    by_chance: float = 0.0
    is_beyond_chance: bool = True

    @property
    def is_possible(self) -> bool:
        """Whether enough ids are explained for the channel to be this network at all."""
        return self.explained >= self.least

    @property
    def is_trusted(self) -> bool:
        """Whether so many are explained that what the DBC says can be trusted."""
        return self._trusts(self.explained, self.ids, is_beyond=self.is_beyond_chance)

    @property
    def is_partial(self) -> bool:
        """Whether it explains less than two thirds of the ids."""
        return less_than_two_thirds(self.explained, self.ids)

    @property
    def missing(self) -> int:
        """How many more of the DBC's messages must come, and no other id, until it can be trusted."""
        for more in range(self.messages):
            explained, ids = self.explained + more, self.ids + more
            chance = self.by_chance * ids / max(self.ids, 1)
            if self._trusts(explained, ids, is_beyond=self.is_beyond_chance or _is_beyond(explained, chance)):
                return more
        return self.messages

    def _trusts(self, explained: int, ids: int, *, is_beyond: bool) -> bool:
        return explained >= self.least and is_beyond and 2 * explained >= min(ids, self.messages)


@dataclass(frozen=True)
class Identity:
    """The network a channel was taken for, with what spoke for it.

    network:    None where no network clearly is it
    level:      how well it is known
    candidates: best first; equals in the vehicle file's order
    ids:        distinct ids on the channel, those of diagnostics left out
    is_diagnostics_only: it carries nothing but diagnostics
    """

    network: str | None
    level: IdentityLevel
    candidates: tuple[Candidate, ...]
    ids: int
    is_diagnostics_only: bool = False

    def candidate(self, network: str) -> Candidate:
        """The entry of one network."""
        return next(entry for entry in self.candidates if entry.network == network)

    def declared(self, network: str) -> IdentityLevel:
        """How well the channel is known to be the network that somebody says it is; NONE: it is not."""
        own = self.candidate(network)
        if not own.is_possible:
            return IdentityLevel.NONE
        if self.level is IdentityLevel.IDENTIFIED and self.network not in {None, network}:
            other = self.candidate(self.network or "")
            if other.explained >= 2 * own.explained:  # a gateway copied those few
                return IdentityLevel.NONE
        return IdentityLevel.IDENTIFIED if own.is_trusted else IdentityLevel.DOUBTFUL


def is_diagnostic(frame_id: FrameId, addresses: Collection[FrameId] = ()) -> bool:
    """Whether an id is one of diagnostics: the vehicle file's addresses, or those of ISO 15765."""
    if frame_id in addresses:
        return True
    if frame_id.is_extended:
        return frame_id.can_id >> 16 in _NORMAL_FIXED
    return frame_id.can_id in _BROADCAST


def without_diagnostics(traffic: Traffic, addresses: Collection[FrameId] = ()) -> Traffic:
    """The same without the ids of diagnostics, which every network has and no DBC tells apart."""
    lengths = {
        frame_id: counts
        for frame_id, counts in traffic.lengths.items()
        if not is_diagnostic(frame_id, addresses)
    }
    return replace(traffic, lengths=lengths)


def messages_by_id(traffic: Traffic, database: Database) -> Mapping[FrameId, Message]:
    """The message that the DBC has for each of the channel's ids; ids it does not know are left out."""
    exact = {FrameId(message.can_id, message.is_extended): message for message in reversed(database.messages)}
    groups = {
        parameter_group(message.can_id): message
        for message in reversed(database.messages)
        if message.is_j1939
    }
    known = {}
    for frame_id in traffic.lengths:
        message = exact.get(frame_id)
        if message is None and frame_id.is_extended and groups:
            message = groups.get(parameter_group(frame_id.can_id))
        if message is not None:
            known[frame_id] = message
    return known


def explained_ids(traffic: Traffic, database: Database) -> Collection[FrameId]:
    """The distinct ids that have a message in the DBC, with frames mostly at least as long as it says."""
    return [
        frame_id
        for frame_id, message in messages_by_id(traffic, database).items()
        if traffic.mostly_at_least(frame_id, message.length)
    ]


def identify(
    traffic: Traffic,
    networks: Mapping[str, Database],
    *,
    addresses: Collection[FrameId] = (),
    sent_by_items: Mapping[str, Collection[FrameId]] | None = None,
) -> Identity:
    """Take a channel for the network that explains its ids best, if one clearly does.

    Clearly: at least three ids (all, if the network has fewer messages), and half as many again as the next
    network. It is identified if the ids are also more than chance gives, and half of the channel's or of the
    DBC's; else doubtful.

    addresses:     diagnostic ids of the vehicle file; they and the standard's count nowhere
    sent_by_items: per network, ids that new parts will send: not expected where they do not come already
    """

    def is_counted(frame_id: FrameId) -> bool:
        return not is_diagnostic(frame_id, addresses)

    ids = [frame_id for frame_id in traffic.lengths if is_counted(frame_id)]
    candidates = sorted(
        (
            _candidate(name, traffic, database, ids, is_counted, (sent_by_items or {}).get(name, ()))
            for name, database in networks.items()
        ),
        key=lambda candidate: -candidate.explained,
    )
    network, level = None, IdentityLevel.NONE
    if candidates and candidates[0].is_possible:
        second = candidates[1].explained if len(candidates) > 1 else 0
        if 2 * candidates[0].explained >= 3 * second:
            network = candidates[0].network
            is_trusted = candidates[0].is_trusted
            level = IdentityLevel.IDENTIFIED if is_trusted else IdentityLevel.DOUBTFUL
    only_diagnostics = bool(traffic.lengths) and not ids
    return Identity(network, level, tuple(candidates), len(ids), only_diagnostics)


def _is_beyond(explained: int, by_chance: float) -> bool:
    return explained > by_chance + _DEVIATIONS * math.sqrt(by_chance)


def _candidate(
    name: str,
    traffic: Traffic,
    database: Database,
    ids: Collection[FrameId],
    is_counted: Callable[[FrameId], bool],
    sent_by_items: Collection[FrameId],
) -> Candidate:
    expected = {
        frame_id
        for message in database.messages
        for frame_id in [FrameId(message.can_id, message.is_extended)]
        if is_counted(frame_id) and (frame_id not in sent_by_items or frame_id in traffic.lengths)
    }
    explained = [frame_id for frame_id in explained_ids(traffic, database) if is_counted(frame_id)]
    wide = sum(frame_id.is_extended for frame_id in explained)
    narrow_ids = sum(not frame_id.is_extended for frame_id in ids)
    narrow_messages = sum(not frame_id.is_extended for frame_id in expected)
    chance = narrow_ids * narrow_messages / 2048
    is_beyond = wide > 0 or _is_beyond(len(explained), chance)
    least = max(1, min(LEAST_IDS, len(expected)))
    return Candidate(name, len(explained), least, len(ids), len(expected), chance, is_beyond)
