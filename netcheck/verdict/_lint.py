"""What looks like a mistake in the vehicle file, seen beside the DBC: not refused, but said."""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.coding import field_mask, locate
from netcheck.database import Signal
from netcheck.roles import ResolvedRole
from netcheck.verdict._context import PlanContext
from netcheck.verdict._warnings import (
    ModuleWithoutNode,
    NodeSendsNothing,
    NumberTooLarge,
    PlanWarning,
    SeveralEntries,
    SharedBits,
)
from netcheck.words import unique


def vehicle_lint(context: PlanContext) -> Iterator[PlanWarning]:
    """What counts in the job's model year."""
    file, year = context.job.vehicle.file.name, context.job.model_year
    for role, entries in context.roles.items():
        for entry in entries:
            yield from _numbers(entry, file)
        for network in unique(entry.network for entry in entries):
            here = [entry.title for entry in entries if entry.network == network]
            if len(here) > 1:
                yield SeveralEntries(file, role, network, len(here), year, here[0])
    yield from _silent_nodes(context, file)
    yield from _shared_bits(context, file)


def _numbers(source: ResolvedRole, file: str) -> Iterator[PlanWarning]:
    """Numbers that no frame can hold."""
    signal, entry = source.signal, source.entry
    if signal is None or signal.is_float:
        return
    low, high = _limits(signal)
    active = [state for state in entry.active if isinstance(state, int)]
    for key, numbers in (("active", active), ("not_available", entry.not_available)):
        for number in numbers:
            if not low <= number <= high:
                yield NumberTooLarge(
                    file, source.role, key, number, signal.width, signal.is_signed, source.title, low, high
                )


def _limits(signal: Signal) -> tuple[int, int]:
    if signal.is_signed:
        return -(1 << (signal.width - 1)), (1 << (signal.width - 1)) - 1
    return 0, (1 << signal.width) - 1


def _silent_nodes(context: PlanContext, file: str) -> Iterator[PlanWarning]:
    """Modules that a part replaces, whose node sends nothing by any DBC: nothing would be missed of them."""
    senders = {
        sender
        for database in context.databases.values()
        for message in database.messages
        for sender in message.senders
    }
    names = dict.fromkeys(entry.module for item in context.items for entry in item.retrofit.replace)
    for name in names:
        if name is None or not context.has_module(name):
            continue
        node = context.job.vehicle.model.module[name].node
        if node is None:
            yield ModuleWithoutNode(file, name)
        elif node not in senders:
            yield NodeSendsNothing(file, name, node)


def _shared_bits(context: PlanContext, file: str) -> Iterator[PlanWarning]:
    """Fields to be coded that have bits in common with another field: coding the one changes the other."""
    wanted = dict.fromkeys((code.module, code.field) for item in context.items for code in item.retrofit.code)
    for module, name in wanted:
        place = locate(context.job.vehicle.model, context.job.model_year, module, name)
        if place is None:
            continue
        own = int.from_bytes(field_mask(place.field, place.block.length), "big")
        others = tuple(
            other
            for other, field in place.block.field.items()
            if other != name and own & int.from_bytes(field_mask(field, place.block.length), "big")
        )
        if others:
            yield SharedBits(file, module, place.did, name, others)
