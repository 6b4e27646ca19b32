"""What stops an item as the job has it, beside its needs: one small function a kind."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from netcheck.database import Message
from netcheck.files import Need, Supply, is_fact_of
from netcheck.network import FrameId
from netcheck.roles import ResolvedRole
from netcheck.verdict._conflict_model import (
    Conflict,
    FactMismatch,
    IdInUse,
    IdSentTwice,
    LostSource,
    ModuleAbsent,
    SourcePresent,
    SuppliedTwice,
)
from netcheck.verdict._context import PlanContext, is_sent_only_by
from netcheck.verdict._item_note_model import IdInDbc, IdleReplacement, IdsUnchecked, Note, OptionalLoss
from netcheck.verdict._overload import load_notes, overloads
from netcheck.verdict._question_model import FactUnknown, PassedOn, Question, SupplyIdUnknown, UserAbsent
from netcheck.words import unique


def conflicts(context: PlanContext, item: int) -> tuple[Conflict, ...]:
    """All conflicts of an item except those of its coding."""
    return (
        *_ids_in_use(context, item),
        *_two_sources(context, item),
        *_fact_mismatches(context, item),
        *_absent_modules(context, item),
        *_lost_sources(context, item),
        *overloads(context, item),
    )


def _ids_in_use(context: PlanContext, item: int) -> Iterator[Conflict]:
    loaded = context.items[item]
    if loaded.network is None:
        return
    gone = {FrameId(entry.can_id, entry.is_extended) for entry in context.replaced_messages(loaded.network)}
    known = _messages(context, loaded.network)
    sent = context.sent_ids
    for frame_id in sent[item]:
        count = context.captures.by_network[loaded.network].count(frame_id)
        if count and frame_id not in gone:
            owner = known.get(frame_id)
            name, senders = (owner.name, owner.senders) if owner is not None else (None, ())
            yield IdInUse(frame_id, loaded.network, count, name, tuple(senders))
        for other, second in enumerate(context.items):
            same = second.network == loaded.network and frame_id in sent[other]
            if other != item and same:
                first, last = _in_job_order(context, item, other)
                yield IdSentTwice(frame_id, loaded.network, first, last)


def _messages(context: PlanContext, network: str) -> dict[FrameId, Message]:
    """The messages of a network's DBC by id; of two with one id the first."""
    messages = context.databases[network].messages
    return {FrameId(entry.can_id, entry.is_extended): entry for entry in reversed(messages)}


def _two_sources(context: PlanContext, item: int) -> Iterator[Conflict]:
    loaded = context.items[item]
    if loaded.network is None:
        return
    replaced = context.replaced_roles()
    nodes = context.replaced_nodes()
    for role in unique(role for supply in loaded.retrofit.supply for role in supply.roles):
        source = context.choice(role, (loaded.network,)).source
        if source is not None and source.message is not None and role not in replaced:
            seen = context.captures.observation(source.watch)
            is_present = 2 * seen.too_short <= seen.frames and seen.carried > seen.unavailable
            if is_present and not is_sent_only_by(source.message, nodes):
                yield SourcePresent(role, loaded.network, source.title, seen.carried)
        for other in context.suppliers(role, (loaded.network,), besides=item):
            yield SuppliedTwice(role, loaded.network, *_in_job_order(context, item, other))


def _in_job_order(context: PlanContext, item: int, other: int) -> tuple[str, str]:
    """The names of two items, so that a conflict between them is the same for both."""
    first, second = sorted((item, other))
    return context.items[first].retrofit.name, context.items[second].retrofit.name


def _fact_mismatches(context: PlanContext, item: int) -> Iterator[Conflict]:
    facts = context.job.facts
    for match in context.items[item].retrofit.match:
        if match.fact in facts and not is_fact_of(facts[match.fact], match.any_of):
            yield FactMismatch(match.fact, facts[match.fact], match.any_of, match.why)


def questions(context: PlanContext, item: int) -> tuple[Question, ...]:
    """What nobody has stated and the item's verdict needs, each thing once."""
    return unique(
        (
            *_unknown_facts(context, item),
            *_absent_users(context, item),
            *_passed_on(context, item),
            *_unknown_ids(context, item),
        )
    )


def _unknown_facts(context: PlanContext, item: int) -> Iterator[Question]:
    for match in context.items[item].retrofit.match:
        if match.fact not in context.job.facts:
            yield FactUnknown(match.fact, match.any_of, match.why)
    for condition in context.unstated[item]:
        yield FactUnknown(condition.fact, condition.any_of)


def _absent_users(context: PlanContext, item: int) -> Iterator[Question]:
    modules = tuple(context.job.vehicle.model.module)
    for need in context.items[item].retrofit.need:
        if need.used_by is not None and not context.has_module(need.used_by):
            yield UserAbsent(need.used_by, need.role, modules)


def _passed_on(context: PlanContext, item: int) -> Iterator[Question]:
    """Roles whose old source goes, and which come again on another network only."""
    for need, source, _ in _losses(context, item):
        again = context.suppliers(need.role, None, besides=item)
        if again and not need.optional:
            networks = unique(context.items[number].network or "" for number in again)
            supplier = context.items[again[0]].retrofit.name
            yield PassedOn(need.role, source.network, networks, supplier)


def _unknown_ids(context: PlanContext, item: int) -> Iterator[Question]:
    """Roles that one item supplies without an id and another one needs: it stands on both."""
    for number, loaded in enumerate(context.items):
        users = range(len(context.items)) if number == item else (item,)
        for role in unique(role for supply in loaded.retrofit.supply for role in _without_id(supply)):
            for other in users:
                needs = context.needs_of(other, role) if other != number else ()
                if any(not context.is_wired(other, need) for need in needs):
                    yield SupplyIdUnknown(role, loaded.retrofit.name, context.items[other].retrofit.name)


def _without_id(supply: Supply) -> tuple[str, ...]:
    return supply.roles if supply.message_id is None else ()


def _absent_modules(context: PlanContext, item: int) -> Iterator[Conflict]:
    modules = tuple(context.job.vehicle.model.module)
    for entry in context.items[item].retrofit.require:
        if not context.has_module(entry.module):
            year = context.job.model_year if entry.module in modules else None
            yield ModuleAbsent(entry.module, year, modules, entry.why)


class _Loss(NamedTuple):
    """A need whose source goes with what the job replaces. by_role: its role is replaced, not its sender."""

    need: Need
    source: ResolvedRole
    by_role: bool


def _losses(context: PlanContext, item: int) -> Iterator[_Loss]:
    """What an item needs, the job takes away and no part supplies afterwards where it is needed."""
    nodes, replaced = context.replaced_nodes(), context.replaced_roles()
    for need in context.items[item].retrofit.need:
        choice = context.need_choice(item, need)
        entries = (choice.source,) if choice.source is not None else choice.elsewhere
        if not entries or context.is_wired(item, need):
            continue
        by_role = need.role in replaced
        by_module = all(
            entry.message is not None and is_sent_only_by(entry.message, nodes) for entry in entries
        )
        networks = context.need_networks(item, need)
        if (by_role or by_module) and not context.suppliers(need.role, networks, besides=item):
            yield _Loss(need, entries[0], by_role)


def _lost_sources(context: PlanContext, item: int) -> Iterator[Conflict]:
    for need, source, by_role in _losses(context, item):
        if not need.optional and not context.suppliers(need.role, None, besides=item):
            yield LostSource(need.role, source.network, source.title, by_role)


def notes(context: PlanContext, item: int) -> tuple[Note, ...]:
    """What is worth saying about an item and changes no verdict."""
    return (
        *_idle_replacements(context, item),
        *_unchecked_ids(context, item),
        *load_notes(context, item),
        *_optional_losses(context, item),
    )


def _idle_replacements(context: PlanContext, item: int) -> Iterator[Note]:
    for entry in context.items[item].retrofit.replace:
        if entry.module is not None and not context.has_module(entry.module):
            yield IdleReplacement(entry.module)


def _unchecked_ids(context: PlanContext, item: int) -> Iterator[Note]:
    loaded = context.items[item]
    if loaded.network is None:
        return
    ids, here = tuple(context.sent_ids[item]), context.captures.by_network[loaded.network]
    if ids and not here.is_captured:
        yield IdsUnchecked(ids, loaded.network)
    known = _messages(context, loaded.network)
    for frame_id in ids:
        if frame_id in known and not here.count(frame_id):
            yield IdInDbc(frame_id, known[frame_id].name, here.is_captured)


def _optional_losses(context: PlanContext, item: int) -> Iterator[Note]:
    for need, source, _ in _losses(context, item):
        is_lost = not context.suppliers(need.role, None, besides=item)
        if need.optional and source.message is not None and is_lost:
            yield OptionalLoss(need.role)
