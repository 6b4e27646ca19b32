"""What looks like a slip in the vehicle file, seen beside the DBC: not refused, but said."""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.coding import field_mask, locate
from netcheck.database import Signal
from netcheck.roles import ResolvedRole
from netcheck.verdict._context import PlanContext
from netcheck.words import counted, listing


def vehicle_lint(context: PlanContext) -> Iterator[str]:
    """One line each, for what counts in the job's model year."""
    file = context.job.vehicle.file.name
    for role, sources in context.roles.items():
        for source in sources:
            for line in _numbers(source):
                yield f"{file}: role.{role}: {line}"
        for network in dict.fromkeys(source.network for source in sources):
            here = [source.title for source in sources if source.network == network]
            if len(here) > 1:
                entries = f"{counted(len(here), 'entry', 'entries')} on {network}"
                year = context.job.model_year
                yield f"{file}: role.{role}: {entries} in model year {year}: the first counts, {here[0]}"
    yield from (f"{file}: {line}" for line in (*_silent_nodes(context), *_shared_bits(context)))


def _numbers(source: ResolvedRole) -> Iterator[str]:
    """Numbers that no frame can hold."""
    signal, entry = source.signal, source.entry
    if signal is None or signal.is_float:
        return
    low, high = _limits(signal)
    active = [state for state in entry.active if isinstance(state, int)]
    for key, numbers in (("active", active), ("not_available", entry.not_available)):
        for number in numbers:
            if not low <= number <= high:
                bits = f"the {signal.width} {'signed ' if signal.is_signed else ''}bit of {source.title}"
                yield f"{key}: {number} does not fit {bits}, {low} to {high}, so it never counts"


def _limits(signal: Signal) -> tuple[int, int]:
    if signal.is_signed:
        return -(1 << (signal.width - 1)), (1 << (signal.width - 1)) - 1
    return 0, (1 << signal.width) - 1


def _silent_nodes(context: PlanContext) -> Iterator[str]:
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
            yield f"module.{name} has no node, and a part replaces it: what else goes away is not seen"
        elif node not in senders:
            yield (
                f"module.{name}.node: no message of the DBC files is sent by {node}, and a part replaces it: "
                "what else goes away is not seen"
            )


def _shared_bits(context: PlanContext) -> Iterator[str]:
    """Fields to be coded that have bits in common with another field: coding the one changes the other."""
    wanted = dict.fromkeys((code.module, code.field) for item in context.items for code in item.retrofit.code)
    for module, name in wanted:
        place = locate(context.job.vehicle.model, context.job.model_year, module, name)
        if place is None:
            continue
        own = int.from_bytes(field_mask(place.field, place.block.length), "big")
        others = [
            other
            for other, field in place.block.field.items()
            if other != name and own & int.from_bytes(field_mask(field, place.block.length), "big")
        ]
        if others:
            yield (
                f"module.{module}.coding.0x{place.did:04X}: {name} has bits in common with "
                f"{listing(others)}: coding it changes {'that' if len(others) == 1 else 'those'} too"
            )
