"""The vehicle's networks with the parts of a job on them: who is where, takes what, gives what, goes away."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field, replace

from netcheck.files import LoadedItem, LoadedJob, Module, present_modules
from netcheck.network import FrameId
from netcheck.records import dataclass
from netcheck.verdict import ItemResult, NeedResult, Reason, ResourceBalance, Status, Verdict, worst
from netcheck.words import unique


@dataclass(frozen=True)
class MappedModule:
    """A control unit that this model year has.

    networks:    that it is on, as the vehicle file says; one that joins networks has several
    replaced_by: parts that take it away
    is_touched:  whether the job codes, uses or replaces it
    """

    name: str
    title: str
    networks: tuple[str, ...]
    replaced_by: tuple[str, ...] = ()
    is_touched: bool = False


@dataclass(frozen=True)
class TakenSignals:
    """Signals that a part takes from one place.

    network: where they come from; None where nothing is decided, or they come otherwise
    used_by: module that uses them in place of the part
    wire:    where a wire of the part's own is joined; items: parts of the job that supply them
    status:  missing, expected, or shown for all that is known to be there
    optional: the part works without them; of those that are missing or expected
    """

    roles: tuple[str, ...]
    network: str | None
    status: Status
    used_by: str | None = None
    wire: str = ""
    items: tuple[str, ...] = ()
    optional: bool = False


@dataclass(frozen=True)
class MappedPart:
    """An item of the job. tap: where the network's pair is; "" where nobody says

    gives:   roles that it sends; ids: their identifiers, as far as its papers tell
    removes: roles, modules and resources that go away with it
    """

    item: str
    title: str
    network: str | None
    tap: str
    takes: tuple[TakenSignals, ...]
    gives: tuple[str, ...]
    ids: tuple[FrameId, ...]
    removes: tuple[str, ...]


@dataclass(frozen=True)
class MappedNetwork:
    """One network of the vehicle, with the modules that are on it alone and the parts that tap it."""

    name: str
    bitrate: int
    fd_bitrate: int | None
    modules: tuple[MappedModule, ...]
    parts: tuple[MappedPart, ...]


@dataclass(frozen=True)
class NetworkMap:
    """All networks of a vehicle.

    joining: modules on several networks, the one with most of them first
    apart:   modules whose network the vehicle file does not say
    untapped: parts on no network
    resources: what parts give each other
    verdicts:  of each retrofit, the worst where there are several items of it
    """

    networks: tuple[MappedNetwork, ...] = ()
    joining: tuple[MappedModule, ...] = ()
    apart: tuple[MappedModule, ...] = ()
    untapped: tuple[MappedPart, ...] = ()
    resources: tuple[ResourceBalance, ...] = ()
    verdicts: Mapping[str, Verdict] = field(default_factory=dict)


def network_map(
    job: LoadedJob, results: Sequence[ItemResult], resources: tuple[ResourceBalance, ...]
) -> NetworkMap:
    """What is where. job: with what applies to this vehicle; results: of its items, in their order"""
    model = job.vehicle.model
    modules = [
        _module(name, module, job, results) for name, module in present_modules(model, job.model_year).items()
    ]
    modules.sort(key=lambda module: not module.is_touched)
    parts = [_part(job, item, result) for item, result in zip(job.items, results, strict=True)]
    networks = tuple(
        MappedNetwork(
            name,
            network.bitrate,
            network.fd_bitrate,
            tuple(module for module in modules if module.networks == (name,)),
            tuple(part for part in parts if part.network == name),
        )
        for name, network in model.network.items()
    )
    joining = sorted(
        (module for module in modules if len(module.networks) > 1),
        key=lambda module: -len(module.networks),
    )
    return NetworkMap(
        networks,
        joining=tuple(joining),
        apart=tuple(module for module in modules if not module.networks),
        untapped=tuple(part for part in parts if part.network is None),
        resources=tuple(balance for balance in resources if balance.used),
        verdicts={
            name: worst(each.verdict for each in results if each.retrofit == name)
            for name in unique(result.retrofit for result in results)
        },
    )


def _module(name: str, module: Module, job: LoadedJob, results: Sequence[ItemResult]) -> MappedModule:
    replaced_by = tuple(
        item.retrofit.name
        for item in job.items
        if any(entry.module == name for entry in item.retrofit.replace)
    )
    is_used = any(
        name in {*(row.module for row in result.coding), *(need.used_by for need in result.needs)}
        for result in results
    )
    return MappedModule(
        name, module.title, module.networks, replaced_by, is_touched=bool(replaced_by) or is_used
    )


def _part(job: LoadedJob, item: LoadedItem, result: ItemResult) -> MappedPart:
    network = job.vehicle.model.network.get(item.network or "")
    retrofit = item.retrofit
    return MappedPart(
        retrofit.name,
        retrofit.title or retrofit.name,
        item.network,
        (network.tap or "") if network is not None else "",
        tuple(_takes(result)),
        unique(role for supply in retrofit.supply for role in supply.roles),
        unique(
            FrameId(supply.message_id, supply.is_extended)
            for supply in retrofit.supply
            if supply.message_id is not None
        ),
        tuple(entry.role or entry.module or entry.resource or "" for entry in retrofit.replace),
    )


def _takes(result: ItemResult) -> list[TakenSignals]:
    """Signals that come in the same way stand together, in the order of the needs."""
    groups: dict[TakenSignals, list[str]] = {}
    for need in result.needs:
        groups.setdefault(_way(need), []).append(need.role)
    return [replace(way, roles=tuple(roles)) for way, roles in groups.items()]


def _way(need: NeedResult) -> TakenSignals:
    facts = need.facts
    if need.reason is Reason.BY_WIRE:
        return TakenSignals((), None, Status.SUPPLIED, wire=facts.wire.from_ if facts.wire else "")
    if need.reason is Reason.BY_ITEM:
        return TakenSignals((), need.network, Status.SUPPLIED, need.used_by, items=facts.suppliers)
    is_open = need.status in {Status.MISSING, Status.EXPECTED}
    status = need.status if is_open else Status.SHOWN
    return TakenSignals((), need.network, status, need.used_by, optional=is_open and need.optional)
