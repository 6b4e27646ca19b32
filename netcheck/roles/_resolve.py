"""Where the vehicle file says each role is, with what the DBC knows of it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Literal

from netcheck.database import Database, Message, Signal, load_database
from netcheck.errors import InputError
from netcheck.files import LoadedJob, LoadedVehicle, RoleSource, Vehicle, present_modules
from netcheck.network import FrameId
from netcheck.records import dataclass
from netcheck.roles._watch import Watch, raw_values
from netcheck.words import similar


@dataclass(frozen=True)
class Lack:
    """What the DBC lacks of a role's entry.

    message: the message that lacks it, for a signal or a counter
    similar: what the DBC has with a name much like it
    """

    what: Literal["message", "signal", "counter"]
    name: str
    message: str | None = None
    similar: tuple[str, ...] = ()


@dataclass(frozen=True)
class ResolvedRole:
    """One entry of a role that holds in the job's model year.

    message, signal: None where the DBC lacks them
    lacks: what the DBC lacks, None where it has all
    played_by: the signal with its states, without a counter where the DBC lacks only that; None where it
           lacks message or signal
    """

    role: str
    entry: RoleSource
    message: Message | None
    signal: Signal | None
    lacks: Lack | None
    played_by: Watch | None

    @property
    def watch(self) -> Watch | None:
        """What to look for in captures; None where the DBC lacks anything, be it only the counter."""
        return None if self.lacks else self.played_by

    @property
    def network(self) -> str:
        """The network this entry is about."""
        return self.entry.network

    @property
    def title(self) -> str:
        """``Message.Signal`` as the vehicle file names it."""
        return f"{self.entry.message}.{self.entry.signal}"


RolesByName = Mapping[str, tuple[ResolvedRole, ...]]


def load_networks(vehicle: LoadedVehicle, *, cache: bool = True) -> dict[str, Database]:
    """The database of each of the vehicle's networks."""
    return {name: load_database(*vehicle.dbc_paths(name), cache=cache) for name in vehicle.model.network}


def diagnostic_addresses(vehicle: Vehicle, year: int | None = None) -> frozenset[FrameId]:
    """The diagnostic ids that a vehicle file names for a model year; without one, for any."""
    modules = vehicle.module if year is None else present_modules(vehicle, year)
    ids = (address for module in modules.values() for address in (module.request_id, module.response_id))
    return frozenset(FrameId(address, address > 0x7FF) for address in ids if address is not None)


def resolve_roles(job: LoadedJob, databases: Mapping[str, Database]) -> RolesByName:
    """Every role's entries for the job's model year; see ``roles_of``."""
    return roles_of(job.vehicle, job.model_year, databases)


def roles_of(vehicle: LoadedVehicle, year: int | None, databases: Mapping[str, Database]) -> RolesByName:
    """Every role's entries for a model year, in the vehicle file's order; without a year, those of any.

    Raises InputError for an active label that the signal's value table lacks, in any year's entry.
    """
    found: dict[str, tuple[ResolvedRole, ...]] = {}
    for role, entries in vehicle.model.role.items():
        all_years = [
            _resolved(role, entry, databases[entry.network], vehicle, f"role.{role}[{number}]")
            for number, entry in enumerate(entries)
        ]
        found[role] = tuple(
            resolved for resolved in all_years if year is None or holds_in(resolved.entry, year)
        )
    return found


def holds_in(entry: RoleSource, year: int) -> bool:
    """Whether a role's entry is about this model year."""
    return entry.years is None or entry.years[0] <= year <= entry.years[1]


def entries_of(job: LoadedJob, role: str) -> tuple[RoleSource, ...]:
    """A role's entries for the job's model year, as the vehicle file has them."""
    entries = job.vehicle.model.role.get(role, ())
    return tuple(entry for entry in entries if holds_in(entry, job.model_year))


def watches(sources: RolesByName, roles: Iterable[str]) -> tuple[Watch, ...]:
    """What to look for in captures, for these roles on every network."""
    wanted = dict.fromkeys(roles)
    return tuple(
        source.watch for role in wanted for source in sources.get(role, ()) if source.watch is not None
    )


def _resolved(
    role: str, entry: RoleSource, database: Database, vehicle: LoadedVehicle, where: str
) -> ResolvedRole:
    message = database.message(entry.message)
    signal = message.signal(entry.signal) if message is not None else None
    counter = message.signal(entry.counter) if message is not None and entry.counter is not None else None
    if message is None or signal is None:
        return ResolvedRole(role, entry, message, None, _lacks(entry, database, message), None)
    active = tuple(dict.fromkeys(_active(entry, signal, vehicle, where)))
    lack = None
    if entry.counter is not None and counter is None:
        lack = Lack("counter", entry.counter, message.name, _similar_signal(entry.counter, message))
    played_by = Watch(role, entry.network, message, signal, active, entry.not_available, counter)
    return ResolvedRole(role, entry, message, signal, lack, played_by)


def _lacks(entry: RoleSource, database: Database, message: Message | None) -> Lack:
    if message is None:
        names = [message.name for message in database.messages]
        return Lack("message", entry.message, None, similar(entry.message, names))
    return Lack("signal", entry.signal, message.name, _similar_signal(entry.signal, message))


def _similar_signal(name: str, message: Message) -> tuple[str, ...]:
    return similar(name, [signal.name for signal in message.signals])


def _active(entry: RoleSource, signal: Signal, vehicle: LoadedVehicle, where: str) -> Iterator[int]:
    for state in entry.active:
        numbers = raw_values(signal, state)
        if not numbers:
            raise InputError(
                vehicle.file,
                f"signal {signal.name} has no value labelled '{state}'",
                where=f"{where}.active",
                remedy=labels_of(signal),
            )
        yield from numbers


def labels_of(signal: Signal) -> str:
    """The labels a signal has, as a remedy."""
    if not signal.labels:
        return "it has no value table: give raw numbers"
    return "it has " + ", ".join(f"'{label}'" for label in dict.fromkeys(signal.labels.values()))
