"""What a plan stands on: the job's files and captures, looked at once and shared by all rules."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from netcheck.coding import Readouts, locate, module_in, number_of, read_field
from netcheck.database import Database, Message
from netcheck.files import LoadedItem, LoadedJob, UnlockedBy
from netcheck.roles import ResolvedRole, RolesByName, load_networks, resolve_roles, watches
from netcheck.verdict._captures import JobCaptures, Progress, read_captures
from netcheck.verdict._case import RoleChoice, choose


@dataclass(frozen=True)
class PlanContext:
    """Everything that was read for a job. Readouts are those from before the fitting."""

    job: LoadedJob
    databases: Mapping[str, Database]
    roles: RolesByName
    captures: JobCaptures
    readouts: Readouts

    @property
    def items(self) -> tuple[LoadedItem, ...]:
        """The job's items."""
        return self.job.items

    def choice(self, role: str, network: str | None) -> RoleChoice:
        """The entry of a role for an item wired to ``network``."""
        return choose(self.roles.get(role, ()), network, self.captures)

    def has_module(self, module: str) -> bool:
        """Whether this model year has the module."""
        return module_in(self.job.vehicle.model, self.job.model_year, module) is not None

    def locked_by(self, source: ResolvedRole) -> UnlockedBy | None:
        """The coding a source waits for; None if it waits for none, or a readout shows it set."""
        unlock = source.entry.unlocked_by
        return None if unlock is None or self._is_set(unlock) else unlock

    def _is_set(self, unlock: UnlockedBy) -> bool:
        place = locate(self.job.vehicle.model, self.job.model_year, unlock.module, unlock.field)
        data = self.readouts.get((unlock.module, place.did)) if place is not None else None
        if place is None or data is None:
            return False
        wanted = number_of(place.field, unlock.value, name=place.name, file=self.job.vehicle.file)
        return read_field(place.field, data) == wanted

    def replaced_nodes(self) -> frozenset[str]:
        """DBC node names of the modules that some item replaces and this vehicle has."""
        modules = self.job.vehicle.model.module
        names = (
            modules[entry.module].node
            for item in self.items
            for entry in item.retrofit.replace
            if entry.module is not None and self.has_module(entry.module)
        )
        return frozenset(name for name in names if name is not None)

    def replaced_messages(self, network: str) -> Iterator[Message]:
        """Messages on a network that go away with what the items replace."""
        nodes = self.replaced_nodes()
        for message in self.databases[network].messages:
            if is_sent_only_by(message, nodes):
                yield message
        for role in self.replaced_roles(network):
            source = self.choice(role, network).source
            if source is not None and source.message is not None:
                yield source.message

    def replaced_roles(self, network: str) -> tuple[str, ...]:
        """Roles whose source on a network some item replaces; an item without a network, everywhere."""
        roles = (
            entry.role
            for item in self.items
            if item.network in (None, network)
            for entry in item.retrofit.replace
            if entry.role is not None
        )
        return tuple(dict.fromkeys(roles))

    def suppliers(self, role: str, network: str | None, besides: int | None = None) -> tuple[int, ...]:
        """Items that supply a role on a network (None: on any), the item ``besides`` left out."""
        return tuple(
            number
            for number, item in enumerate(self.items)
            if number != besides
            and (network is None or item.network == network)
            and any(role in supply.roles for supply in item.retrofit.supply)
        )


def is_sent_only_by(message: Message, nodes: frozenset[str]) -> bool:
    """Whether the DBC names senders of the message, and all of them are among ``nodes``."""
    return bool(message.senders) and nodes.issuperset(message.senders)


def plan_context(job: LoadedJob, *, cache: bool = True, progress: Progress | None = None) -> PlanContext:
    """Load the DBC files and read the captures of a job; arguments as for ``make_plan``."""
    databases = load_networks(job.vehicle, cache=cache)
    sources = resolve_roles(job, databases)
    roles = [
        role
        for item in job.items
        for role in (
            *(need.role for need in item.retrofit.need),
            *(role for supply in item.retrofit.supply for role in supply.roles),
        )
    ]
    taps = read_captures(job, databases, sources, watches(sources, roles), progress)
    readouts = {
        (readout.module, readout.did): readout.data for readout in job.readouts if readout.when == "before"
    }
    return PlanContext(job, databases, sources, taps, readouts)
