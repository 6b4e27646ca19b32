"""Which edition of a module is on the vehicle, and coding fields that belong to a role and are left alone."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from netcheck.coding import CodingRow, label_of, read_field
from netcheck.files import Edition, EditionMatch, edition_of, present_modules
from netcheck.verdict._context import PlanContext
from netcheck.verdict._item_note_model import CodingLeft
from netcheck.verdict._question_model import EditionOpen, KnownEdition
from netcheck.words import unique


def edition_questions(context: PlanContext, item: int, rows: Sequence[CodingRow]) -> Iterator[EditionOpen]:
    """Modules that the item codes, or that send what it needs, and whose edition is not known to fit.

    Only what was read before the fitting counts.
    """
    year = context.job.model_year
    present = present_modules(context.job.vehicle.model, year)
    for name in unique((*(row.module for row in rows), *_senders(context, item))):
        module = present.get(name)
        if module is None or not module.editions:
            continue
        told: dict[int, str] = {}
        for readout in context.job.module_readouts:
            if readout.module == name and readout.when == "before":
                told |= dict(readout.identification)
        match = edition_of(module.editions, told, year)
        if match is not EditionMatch.MATCHES:
            numbers = tuple(sorted(told.items()))
            codes = any(row.module == name for row in rows)
            editions = tuple(map(_known, module.editions))
            yield EditionOpen(name, match is EditionMatch.OTHER, editions, numbers, codes)


def _known(edition: Edition) -> KnownEdition:
    return KnownEdition(*edition.numbers, edition.years)


def _senders(context: PlanContext, item: int) -> Iterator[str]:
    """The modules that alone send the messages of what the item needs, by the DBC."""
    nodes = {m.node: name for name, m in context.job.vehicle.model.module.items() if m.node is not None}
    for need in context.items[item].retrofit.need:
        if context.is_wired(item, need):
            continue
        source = context.need_choice(item, need).source
        message = source.message if source is not None else None
        if message is not None and len(message.senders) == 1 and message.senders[0] in nodes:
            yield nodes[message.senders[0]]


def fields_left(context: PlanContext, item: int, rows: Sequence[CodingRow]) -> Iterator[CodingLeft]:
    """Fields that belong to a role the item works on, and that the job does not code. rows: the job's"""
    retrofit = context.items[item].retrofit
    touched = {
        *(need.role for need in retrofit.need),
        *(role for supply in retrofit.supply for role in supply.roles),
        *(entry.role for entry in retrofit.replace if entry.role is not None),
    }
    coded = {(row.module, row.field) for row in rows}
    for name, module in present_modules(context.job.vehicle.model, context.job.model_year).items():
        for did, block in module.coding.items():
            for key, field in block.field.items():
                roles = tuple(role for role in field.roles if role in touched)
                if roles and (name, key) not in coded:
                    data = context.readouts.get((name, did))
                    value = None if data is None else label_of(field, read_field(field, data))
                    yield CodingLeft(name, key, roles, value)
