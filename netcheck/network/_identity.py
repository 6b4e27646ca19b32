"""Which of a vehicle's networks a channel is, by the ids it carries."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from netcheck.database import Database, Message, parameter_group
from netcheck.network._traffic import FrameId, Traffic

LEAST_IDS: Final = 3  # or all, where a network has fewer messages
_DEVIATIONS: Final = 4  # of a count by chance, whose variance is its mean


@dataclass(frozen=True)
class Candidate:
    """How many of a channel's ids one network's DBC explains, and how many it must."""

    network: str
    explained: int
    least: int

    @property
    def is_possible(self) -> bool:
        """Whether enough ids are explained for the channel to be this network at all."""
        return self.explained >= self.least


@dataclass(frozen=True)
class Identity:
    """The network a channel was taken for, with what spoke for it.

    network:    None where no network clearly is it
    candidates: best first; equals in the vehicle file's order
    ids:        distinct ids on the channel
    """

    network: str | None
    candidates: tuple[Candidate, ...]
    ids: int

    def candidate(self, network: str) -> Candidate:
        """The entry of one network."""
        return next(entry for entry in self.candidates if entry.network == network)


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


def explained_ids(traffic: Traffic, database: Database) -> int:
    """How many distinct ids have a message in the DBC, with frames mostly at least as long as it says."""
    known = messages_by_id(traffic, database)
    return sum(traffic.mostly_at_least(frame_id, message.length) for frame_id, message in known.items())


def identify(traffic: Traffic, networks: Mapping[str, Database]) -> Identity:
    """Take a channel for the network that explains its ids best, if one clearly does.

    Clearly: at least three ids (all, if the network has fewer messages), and half as many again
    as the next network.
    """
    candidates = sorted(
        (
            Candidate(name, explained_ids(traffic, database), least_ids(database))
            for name, database in networks.items()
        ),
        key=lambda candidate: -candidate.explained,
    )
    winner = None
    if candidates and candidates[0].is_possible:
        second = candidates[1].explained if len(candidates) > 1 else 0
        if 2 * candidates[0].explained >= 3 * second:
            winner = candidates[0].network
    return Identity(winner, tuple(candidates), len(traffic.lengths))


def may_be_chance(explained: int, traffic: Traffic, database: Database) -> bool:
    """Whether any DBC of that size may explain as many ids: four standard deviations are allowed."""
    chance = ids_by_chance(traffic, database)
    return explained <= chance + _DEVIATIONS * math.sqrt(chance)


def ids_by_chance(traffic: Traffic, database: Database) -> float:
    """How many of the channel's 11-bit ids a DBC of that size would have if they were any ids."""
    narrow = sum(not frame_id.is_extended for frame_id in traffic.lengths)
    taken = {message.can_id for message in database.messages if not message.is_extended}
    return narrow * len(taken) / 2048


def least_ids(database: Database) -> int:
    """How many ids a channel must share with a network to be it."""
    return max(1, min(LEAST_IDS, len(database.messages)))
