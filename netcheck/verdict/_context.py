"""What a plan stands on: the job's files and captures, looked at once and shared by all rules."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cached_property

from netcheck.coding import Readouts, locate, module_in, number_of, read_field
from netcheck.database import Database, Message
from netcheck.evidence import observe
from netcheck.files import LoadedItem, LoadedJob, Need, OnlyIf, UnlockedBy, When
from netcheck.network import FrameId
from netcheck.records import dataclass
from netcheck.roles import ResolvedRole, RolesByName, load_networks, resolve_roles, watches
from netcheck.verdict._captures import JobCaptures, Observer, Progress, read_captures
from netcheck.verdict._case import RoleChoice, choose
from netcheck.verdict._resources import ResourceBalance, resource_balances
from netcheck.words import unique


@dataclass(frozen=True)
class PlanContext:
    """Everything that was read for a job. Readouts and captures are those from one side of the fitting.

    job:      its retrofits hold only what applies to this vehicle
    unstated: per item, conditions on facts that nobody states
    """

    job: LoadedJob
    databases: Mapping[str, Database]
    roles: RolesByName
    captures: JobCaptures
    readouts: Readouts
    unstated: tuple[tuple[OnlyIf, ...], ...]

    @cached_property
    def balances(self) -> tuple[ResourceBalance, ...]:
        """Who gives what to whom."""
        return resource_balances(self.job)

    @property
    def items(self) -> tuple[LoadedItem, ...]:
        """The job's items."""
        return self.job.items

    def choice(self, role: str, networks: tuple[str, ...] | None) -> RoleChoice:
        """The entry of a role on one of some networks; None: on any."""
        return choose(self.roles.get(role, ()), networks, self.captures)

    def need_networks(self, item: int, need: Need) -> tuple[str, ...] | None:
        """Where a need is judged: on the item's network, or on those of the module that uses the signal.

        None while that is undecided. A module that this model year does not have counts for nothing.
        """
        network = self.items[item].network
        if need.used_by is not None and self.has_module(need.used_by):
            networks = self.job.vehicle.model.module[need.used_by].networks
            if networks:
                return networks
        return None if network is None else (network,)

    def need_choice(self, item: int, need: Need) -> RoleChoice:
        """The entry of the vehicle file that a need is judged by."""
        return self.choice(need.role, self.need_networks(item, need))

    def is_wired(self, item: int, need: Need) -> bool:
        """Whether the item gets the signal by a wire of its own."""
        return need.used_by is None and self.items[item].wire(need.role) is not None

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
        for role in self.replaced_roles():
            for source in self.roles.get(role, ()):
                if source.network == network and source.message is not None:
                    yield source.message

    def replaced_roles(self) -> tuple[str, ...]:
        """Roles whose source some item replaces: on every network, wherever the item is wired."""
        roles = (entry.role for item in self.items for entry in item.retrofit.replace)
        return unique(role for role in roles if role is not None)

    def suppliers(
        self, role: str, networks: tuple[str, ...] | None, besides: int | None = None
    ) -> tuple[int, ...]:
        """Items that supply a role on one of some networks (None: on any), ``besides`` left out."""
        return tuple(
            number
            for number in self._suppliers.get(role, ())
            if number != besides and (networks is None or self.items[number].network in networks)
        )

    def needs_of(self, item: int, role: str) -> Sequence[Need]:
        """What an item needs of a role."""
        return self._needs.get((item, role), ())

    @cached_property
    def _needs(self) -> Mapping[tuple[int, str], Sequence[Need]]:
        found: dict[tuple[int, str], list[Need]] = {}
        for number, item in enumerate(self.items):
            for need in item.retrofit.need:
                found.setdefault((number, need.role), []).append(need)
        return found

    @cached_property
    def sent_ids(self) -> tuple[Mapping[FrameId, None], ...]:
        """Per item, the ids that it will send, in its retrofit's order."""
        return tuple(
            dict.fromkeys(
                FrameId(supply.message_id, supply.is_extended)
                for supply in item.retrofit.supply
                if supply.message_id is not None
            )
            for item in self.items
        )

    @cached_property
    def _suppliers(self) -> Mapping[str, Sequence[int]]:
        """Items that supply each role, in the job's order."""
        found: dict[str, list[int]] = {}
        for number, item in enumerate(self.items):
            for role in unique(role for supply in item.retrofit.supply for role in supply.roles):
                found.setdefault(role, []).append(number)
        return found


def is_sent_only_by(message: Message, nodes: frozenset[str]) -> bool:
    """Whether the DBC names senders of the message, and all of them are among ``nodes``."""
    return bool(message.senders) and nodes.issuperset(message.senders)


def plan_context(
    job: LoadedJob,
    *,
    cache: bool = True,
    progress: Progress | None = None,
    when: When = "before",
    besides: Iterable[str] = (),
    databases: Mapping[str, Database] | None = None,
    observer: Observer = observe,
) -> PlanContext:
    """Load the DBC files and read the captures of a job; arguments as for ``make_plan``.

    when:    captures and readouts from before or from after the fitting
    besides: roles to look at that no item needs or supplies
    databases: of the vehicle's networks, where they are loaded already
    observer: goes through each capture
    """
    databases = databases or load_networks(job.vehicle, cache=cache)
    applied = job.applied()
    roles = resolve_roles(applied, databases)
    wanted = [
        role
        for item in applied.items
        for role in (
            *(need.role for need in item.retrofit.need),
            *(role for supply in item.retrofit.supply for role in supply.roles),
        )
    ]
    watched = watches(roles, [*wanted, *besides])
    captures = read_captures(applied, databases, roles, watched, progress, when, observer)
    unstated = tuple(job.applying(item).unstated for item in job.items)
    return PlanContext(applied, databases, roles, captures, readouts_of(job, when), unstated)


def readouts_of(job: LoadedJob, when: When) -> Readouts:
    """The coding blocks that were read before the fitting, or after it."""
    return {(readout.module, readout.did): readout.data for readout in job.readouts if readout.when == when}
