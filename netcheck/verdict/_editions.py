"""Which edition of a module is on the vehicle."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from netcheck.coding import CodingRow
from netcheck.files import Edition, EditionMatch, edition_of, present_modules
from netcheck.verdict._context import PlanContext
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
