"""What stops an item as the job has it, beside its needs: one small function a kind."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from netcheck.files import Match, Need, Supply
from netcheck.network import FrameId
from netcheck.roles import ResolvedRole
from netcheck.verdict._context import PlanContext, is_sent_only_by
from netcheck.verdict._model import Conflict, ConflictKind, Question
from netcheck.verdict._overload import load_notes, overloads
from netcheck.words import listing

MOST_MODULES = 12  # of the vehicle, named in one sentence


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
    for frame_id in _sent_ids(loaded.retrofit.supply):
        count = context.captures.by_network[loaded.network].count(frame_id)
        if count and frame_id not in gone:
            yield Conflict(
                ConflictKind.ID_IN_USE,
                f"it will send {frame_id} on {loaded.network}, but "
                f"{_owner(context, loaded.network, frame_id)} was seen with that id there in {count:,} "
                "frames and nothing replaces it",
                "Ask the part's maker for another id, or put it behind a gateway of its own.",
            )
        for other, second in enumerate(context.items):
            same = second.network == loaded.network and frame_id in _sent_ids(second.retrofit.supply)
            if other != item and same:
                yield Conflict(
                    ConflictKind.ID_IN_USE,
                    f"{loaded.retrofit.name} and {second.retrofit.name} both send {frame_id} "
                    f"on {loaded.network}",
                    "Give one of them another id or another network.",
                )


def _sent_ids(supplies: tuple[Supply, ...]) -> tuple[FrameId, ...]:
    """The ids that an item will send, each once."""
    ids = (
        FrameId(supply.message_id, supply.is_extended) for supply in supplies if supply.message_id is not None
    )
    return tuple(dict.fromkeys(ids))


def _owner(context: PlanContext, network: str, frame_id: FrameId) -> str:
    """The message that has an id by the DBC, for a text."""
    for message in context.databases[network].messages:
        if FrameId(message.can_id, message.is_extended) == frame_id:
            senders = f" from {listing(message.senders)}" if message.senders else ""
            return f"{message.name}{senders}"
    return "a message that the DBC does not know"


def _two_sources(context: PlanContext, item: int) -> Iterator[Conflict]:
    loaded = context.items[item]
    if loaded.network is None:
        return
    replaced = context.replaced_roles(loaded.network)
    nodes = context.replaced_nodes()
    roles = dict.fromkeys(role for supply in loaded.retrofit.supply for role in supply.roles)
    for role in roles:
        source = context.choice(role, loaded.network).source
        if source is not None and source.message is not None and role not in replaced:
            seen = context.captures.observation(source.watch)
            is_present = 2 * seen.too_short <= seen.frames and seen.carried > seen.unavailable
            if is_present and not is_sent_only_by(source.message, nodes):
                yield Conflict(
                    ConflictKind.TWO_SOURCES,
                    f"it will send {role} on {loaded.network}, where {source.title} already does "
                    f"({seen.carried:,} frames) and nothing replaces it",
                    "Take the old source away and say so in the retrofit file, or leave the new one silent.",
                )
        for other in context.suppliers(role, loaded.network, besides=item):
            yield Conflict(
                ConflictKind.TWO_SOURCES,
                f"{loaded.retrofit.name} and {context.items[other].retrofit.name} both supply {role} "
                f"on {loaded.network}",
                "Fit one of them, or switch the function off in the other.",
            )


def _fact_mismatches(context: PlanContext, item: int) -> Iterator[Conflict]:
    facts = context.job.vehicle.model.facts
    for match in context.items[item].retrofit.match:
        if match.fact in facts and not _fits(match, facts[match.fact]):
            because = f" ({match.why})" if match.why else ""
            yield Conflict(
                ConflictKind.FACT_MISMATCH,
                f"{match.fact} is {_fact(facts[match.fact])} on this vehicle, the part needs "
                f"{_choices(match)}{because}",
                "Choose a variant of the part that matches, or correct the vehicle file if it is wrong.",
            )


def _fits(match: Match, fact: object) -> bool:
    """Whether a fact is one of those the part fits; true is not 1."""
    return any(
        isinstance(fact, bool) == isinstance(choice, bool) and fact == choice for choice in match.any_of
    )


def _fact(value: object) -> str:
    return str(value).lower() if isinstance(value, bool) else str(value)


def _choices(match: Match) -> str:
    return listing([_fact(choice) for choice in match.any_of], last="or")


def questions(context: PlanContext, item: int) -> tuple[Question, ...]:
    """Facts that the part must match and the vehicle file does not state."""
    facts = context.job.vehicle.model.facts
    return tuple(
        Question(
            match.fact,
            f"the vehicle file does not state {match.fact}; the part needs {_choices(match)}"
            + (f" ({match.why})" if match.why else ""),
        )
        for match in context.items[item].retrofit.match
        if match.fact not in facts
    )


def _absent_modules(context: PlanContext, item: int) -> Iterator[Conflict]:
    for entry in context.items[item].retrofit.require:
        if context.has_module(entry.module):
            continue
        known = entry.module in context.job.vehicle.model.module
        place = f"in model year {context.job.model_year}" if known else "in its vehicle file"
        because = f" ({entry.why})" if entry.why else ""
        modules = listing(tuple(context.job.vehicle.model.module), most=MOST_MODULES)
        otherwise = (
            f" If the vehicle file calls it otherwise (it has {modules}), use that name in a copy of the "
            "retrofit file."
        )
        yield Conflict(
            ConflictKind.MODULE_ABSENT,
            f"the part needs module {entry.module}, which the vehicle does not have {place}{because}",
            f"Fit module {entry.module} first, or choose a part that works without it."
            + ("" if known or not modules else otherwise),
        )


class _Loss(NamedTuple):
    """A need whose source goes with what the job replaces. by_role: its role is replaced, not its sender."""

    need: Need
    source: ResolvedRole
    by_role: bool


def _losses(context: PlanContext, item: int) -> Iterator[_Loss]:
    """What an item needs, the job takes away and no part supplies afterwards."""
    loaded = context.items[item]
    nodes = context.replaced_nodes()
    for need in loaded.retrofit.need:
        source = context.choice(need.role, loaded.network).source
        if source is None:
            continue
        by_role = need.role in context.replaced_roles(source.network)
        by_module = source.message is not None and is_sent_only_by(source.message, nodes)
        if (by_role or by_module) and not context.suppliers(need.role, loaded.network, besides=item):
            yield _Loss(need, source, by_role)


def _lost_sources(context: PlanContext, item: int) -> Iterator[Conflict]:
    for need, source, by_role in _losses(context, item):
        if not need.optional:
            what = f"the old source of {need.role}" if by_role else f"the only sender of {source.title}"
            yield Conflict(
                ConflictKind.LOST_SOURCE,
                f"it needs {need.role} on {source.network}, but the job replaces {what} and nothing supplies "
                "it afterwards",
                "Keep the old source, or add a part that supplies the signal there.",
            )


def notes(context: PlanContext, item: int) -> tuple[str, ...]:
    """What is worth saying about an item and changes no verdict."""
    return (
        *_idle_replacements(context, item),
        *_unchecked_ids(context, item),
        *load_notes(context, item),
        *_optional_losses(context, item),
    )


def _idle_replacements(context: PlanContext, item: int) -> Iterator[str]:
    for entry in context.items[item].retrofit.replace:
        if entry.module is not None and not context.has_module(entry.module):
            yield f"replaces module {entry.module}, which this vehicle does not have: that changes nothing"


def _unchecked_ids(context: PlanContext, item: int) -> Iterator[str]:
    loaded = context.items[item]
    if loaded.network is None:
        return
    ids, tap = _sent_ids(loaded.retrofit.supply), context.captures.by_network[loaded.network]
    if ids and not tap.is_captured:
        names = listing([str(frame_id) for frame_id in ids])
        yield f"whether {names} is free on {loaded.network} is not known: no capture of it"
    known = {
        FrameId(entry.can_id, entry.is_extended): entry
        for entry in context.databases[loaded.network].messages
    }
    for frame_id in ids:
        if frame_id in known and not tap.count(frame_id):
            seen = "which was not seen" if tap.is_captured else "which may be there"
            yield f"the DBC gives {frame_id} to {known[frame_id].name}, {seen}"


def _optional_losses(context: PlanContext, item: int) -> Iterator[str]:
    for need, source, _ in _losses(context, item):
        if need.optional and source.message is not None:
            yield f"the optional {need.role} loses its source to a part that the job replaces"
