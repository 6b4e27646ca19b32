"""What is usual on other vans of the model year, and what one capture shows otherwise.

A capture is read as it would be to be added, and nothing of it is kept. What is told is rare, which is no
fault: another equipment, another use or a recorder of its own explain as much.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from enum import StrEnum
from typing import Any, Final

from netcheck.archive._ask import Archive
from netcheck.archive._questions import LEAST_APART_MS, PERIOD_BAND, periods_apart
from netcheck.archive._read import (
    ReadOrder,
    WantedCapture,
    file_digest,
    hashed_vin,
    local_copy,
    read_capture_rows,
    vehicle_digests,
)
from netcheck.archive._schema import CHANNELS, MESSAGES, ROLES
from netcheck.errors import InputError, UsageError
from netcheck.network import IdentityLevel
from netcheck.records import dataclass

LEAST_PEERS: Final = 3  # vans from which on something is usual: our own choice
MOSTLY: Final = 0.9  # of them, that have to agree: our own choice
_PERIODS_HEARD: Final = 5  # of a message, before its absence says anything
_WIDER: Final = 2.0  # times the widest spread of any peer


class UnusualKind(StrEnum):
    """What is rare."""

    MESSAGE_ABSENT = "message-absent"  # nearly all peers have it
    MESSAGE_ALONE = "message-alone"  # no peer has it
    PERIOD = "period"  # beside the periods of nearly all peers
    SPREAD = "spread"  # its gaps scatter over twice as far as on any peer
    NO_VALUE = "no-value"  # a role has no valid value, and has on nearly all peers
    STATES = "states"  # a role took states that no peer showed


@dataclass(frozen=True)
class Unusual:
    """One thing that this capture has otherwise than its peers.

    message: name by the DBC, "" without; can_id is None for a role
    here:    period or spread in ms, None where it is about neither
    low, high: the same of the vans that agree
    vans:    how many agree, of how many that were looked at
    states:  that no peer showed
    """

    kind: UnusualKind
    network: str
    channel: str
    message: str = ""
    can_id: int | None = None
    extended: bool = False
    role: str = ""
    signal: str = ""
    here: float | None = None
    low: float | None = None
    high: float | None = None
    vans: tuple[int, int] = (0, 0)
    states: tuple[str, ...] = ()


@dataclass(frozen=True)
class BesidePeers:
    """One capture beside its peers.

    peers:     per network of the capture, other vans with captures of it, and those captures
    strangers: whether some of these captures are of vans that nobody told; each counts as a van
    """

    file: str
    vehicle: str
    year: int
    peers: Mapping[str, tuple[int, int]]
    strangers: bool
    unusual: tuple[Unusual, ...]

    @property
    def is_known(self) -> bool:
        """Whether there are enough peers of any network to tell what is usual."""
        return any(vans >= LEAST_PEERS for vans, _ in self.peers.values())


_OTHERS: Final = """
  vehicle = $vehicle AND year = $year AND network = $network AND capture <> $own
  AND (van IS NULL OR NOT list_contains($vans, van))
"""
_PEERS: Final = f"""
SELECT count(DISTINCT coalesce(van, capture)), count(DISTINCT capture), coalesce(bool_or(van IS NULL), false)
FROM channels WHERE identity = 'identified' AND {_OTHERS}
"""
_MESSAGES: Final = f"""
WITH each AS (
  SELECT id, extended, coalesce(van, capture) AS unit, any_value(name) AS name, bool_or(cyclic) AS cyclic,
    median(period_ms) FILTER (cyclic AND NOT coalesce(at_changes, false)) AS period,
    max(jitter_high_ms - jitter_low_ms) FILTER (cyclic AND NOT coalesce(at_changes, false)) AS spread
  FROM messages WHERE NOT diagnostic AND {_OTHERS} GROUP BY ALL),
middle AS (SELECT *, median(period) OVER (PARTITION BY id, extended) AS usual FROM each),
near AS (
  SELECT *, abs(period - usual) <= greatest({PERIOD_BAND} * usual, {LEAST_APART_MS}) AS agrees FROM middle)
SELECT id, extended, any_value(name) AS name, count(*) AS vans, count(*) FILTER (cyclic) AS cyclic,
  any_value(usual) AS usual, count(period) AS timed, count(*) FILTER (agrees) AS agree,
  min(period) FILTER (agrees) AS low, max(period) FILTER (agrees) AS high, max(spread) AS spread
FROM near GROUP BY id, extended ORDER BY id, extended
"""
_ROLES: Final = f"""
SELECT role, message, signal, count(DISTINCT coalesce(van, capture)) AS vans,
  count(DISTINCT coalesce(van, capture)) FILTER (valid > 0) AS valued,
  list_distinct(flatten(list(coalesce(states, [])))) AS states
FROM roles WHERE identity = 'identified' AND {_OTHERS} GROUP BY role, message, signal
"""


def beside_peers(archive: Archive, wanted: WantedCapture, *, cache: bool = True) -> BesidePeers:
    """What a capture shows otherwise than nearly all other vans of its model year in the archive.

    Raises InputError for a capture that cannot be read, UsageError without a vehicle file and year.
    """
    if wanted.vehicle is None or wanted.year is None:
        raise UsageError("--archive without a vehicle and year", remedy="give --vehicle and --year, too")
    tables, digest = _rows(archive, wanted, cache=cache)
    channels = tables[CHANNELS.name]
    hidden = {row["van"] for row in channels if row["van"]}
    if wanted.vin:
        hidden |= {wanted.vin, hashed_vin(archive.store.key, wanted.vin)}
    peers: dict[str, tuple[int, int]] = {}
    found: list[Unusual] = []
    has_strangers = False
    for channel in channels:
        if channel["identity"] != IdentityLevel.IDENTIFIED:
            continue
        asked = {
            "vehicle": channel["vehicle"],
            "year": wanted.year,
            "network": channel["network"],
            "own": digest,
            "vans": sorted(hidden),
        }
        vans, captures, strangers = archive.ask(_PEERS, asked).rows[0]
        peers[channel["network"]] = vans, captures
        has_strangers |= strangers
        if vans >= LEAST_PEERS:
            own = {
                name: [row for row in tables.get(name, ()) if row["channel"] == channel["channel"]]
                for name in (MESSAGES.name, ROLES.name)
            }
            found += _of_messages(archive.ask(_MESSAGES, asked).dicts(), own[MESSAGES.name], channel, vans)
            found += _of_roles(archive.ask(_ROLES, asked).dicts(), own[ROLES.name], channel)
    model = channels[0]["vehicle"] if channels else ""
    return BesidePeers(wanted.name, model, wanted.year, peers, has_strangers, tuple(found))


def _rows(
    archive: Archive, wanted: WantedCapture, *, cache: bool
) -> tuple[dict[str, list[dict[str, Any]]], str]:
    """The capture's rows as it would have them in the store, and its digest."""
    store = archive.store
    with local_copy(wanted.path) as path:
        digest = file_digest(path)
    digests = vehicle_digests(wanted.vehicle) if wanted.vehicle else None
    order = ReadOrder(
        wanted,
        digest,
        None,
        None,
        digests,
        False,
        archive.manifest.keeps_vin,
        store.key,
        store.data,
        cache,
    )
    read = read_capture_rows(order)
    if read.problem:
        raise InputError(wanted.name, "cannot be held beside the archive", remedy=read.problem)
    return {name: table.to_pylist() for name, table in read.tables.items()}, digest


def _of_messages(
    usual: Sequence[Mapping[str, Any]],
    own: Sequence[Mapping[str, Any]],
    channel: Mapping[str, Any],
    vans: int,
) -> Iterator[Unusual]:
    """vans: that captured the network"""
    here = {(row["id"], row["extended"]): row for row in own}
    known = set()
    for peer in usual:
        key = peer["id"], peer["extended"]
        known.add(key)
        row = here.get(key)
        where = _where(peer, channel)
        if row is None:
            is_due = peer["usual"] and channel["awake_s"] * 1000 >= _PERIODS_HEARD * peer["usual"]
            if is_due and peer["cyclic"] >= MOSTLY * vans:
                yield Unusual(UnusualKind.MESSAGE_ABSENT, **where, vans=(peer["cyclic"], vans))
        elif row["cyclic"] and not row["at_changes"] and row["period_ms"] is not None:
            yield from _of_timing(peer, row, where)
    for key, row in here.items():
        if key not in known and row["cyclic"] and not row["diagnostic"]:
            yield Unusual(UnusualKind.MESSAGE_ALONE, **_where(row, channel), vans=(0, vans))


def _of_timing(
    peer: Mapping[str, Any], row: Mapping[str, Any], where: Mapping[str, Any]
) -> Iterator[Unusual]:
    period, timed = row["period_ms"], peer["timed"]
    if timed < LEAST_PEERS:
        return
    nearest = min(max(period, peer["low"]), peer["high"])
    if peer["agree"] >= MOSTLY * timed and periods_apart(period, nearest):
        yield Unusual(
            UnusualKind.PERIOD,
            **where,
            here=period,
            low=peer["low"],
            high=peer["high"],
            vans=(peer["agree"], timed),
        )
        return
    spread = row["jitter_high_ms"] - row["jitter_low_ms"]
    if peer["spread"] is not None and spread > max(_WIDER * peer["spread"], peer["spread"] + LEAST_APART_MS):
        yield Unusual(UnusualKind.SPREAD, **where, here=spread, high=peer["spread"], vans=(timed, timed))


def _of_roles(
    usual: Sequence[Mapping[str, Any]], own: Sequence[Mapping[str, Any]], channel: Mapping[str, Any]
) -> Iterator[Unusual]:
    peers = {(peer["role"], peer["message"], peer["signal"]): peer for peer in usual}
    for row in own:
        peer = peers.get((row["role"], row["message"], row["signal"]))
        if peer is None or peer["valued"] < LEAST_PEERS:
            continue
        entry = {
            "network": channel["network"],
            "channel": channel["channel"],
            "message": row["message"],
            "role": row["role"],
            "signal": row["signal"],
        }
        if not row["valid"]:
            if row["frames"] and peer["valued"] >= MOSTLY * peer["vans"]:  # else its message is told
                yield Unusual(UnusualKind.NO_VALUE, **entry, vans=(peer["valued"], peer["vans"]))
            continue
        strange = tuple(state for state in row["states"] if state not in peer["states"])
        if strange:
            yield Unusual(UnusualKind.STATES, **entry, vans=(0, peer["valued"]), states=strange)


def _where(row: Mapping[str, Any], channel: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "network": channel["network"],
        "channel": channel["channel"],
        "message": row["name"] or "",
        "can_id": row["id"],
        "extended": row["extended"],
    }
