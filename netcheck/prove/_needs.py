"""Needs and supplied roles with evidence from after the fitting, by the rules of the plan; exercises done."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from netcheck.files import Need
from netcheck.network import FrameId
from netcheck.prove._change_model import (
    ProvenMessage,
    SignalStuck,
)
from netcheck.prove._latency import latencies, reactions_of
from netcheck.prove._measure import CaptureMeasured, MeasuredSide
from netcheck.prove._model import (
    ExerciseDone,
    ProvenNeed,
)
from netcheck.prove._note_model import (
    DelayUnmeasured,
    ExercisesOpen,
    NotOnTheNetwork,
    OptionalNeedOpen,
    ProveNote,
    SupplyUnmapped,
)
from netcheck.verdict import PlanContext, Reason, Status, judge
from netcheck.words import unique

UNMAPPED: Final = frozenset({Reason.UNDEFINED_ROLE, Reason.UNDEFINED_SIGNAL, Reason.OTHER_NETWORK})


def proven_needs(context: PlanContext, captures: Sequence[CaptureMeasured]) -> Iterator[ProvenNeed]:
    """Each need of each item, then what each item supplies and the vehicle file maps."""
    for number, item in enumerate(context.items):
        name, reactions = item.retrofit.name, reactions_of(item.retrofit)
        for need in item.retrofit.need:
            result = judge(context, number, need)
            told = latencies(captures, need.role, result.network, need.max_delay_ms, reactions)
            yield ProvenNeed(name, result, latencies=tuple(told))
        for role in unique(role for supply in item.retrofit.supply for role in supply.roles):
            result = judge(context, number, Need(role=role, evidence="moves"))
            if result.reason not in UNMAPPED:
                told = latencies(captures, role, result.network, None, reactions)
                yield ProvenNeed(name, result, is_supplied=True, latencies=tuple(told))


def exercises(context: PlanContext) -> Iterator[ExerciseDone]:
    """Every exercise of the items whose role the vehicle file maps, done or not."""
    for number, item in enumerate(context.items):
        for exercise in item.retrofit.exercise:
            need = next((need for need in item.retrofit.need if need.role == exercise.role), None)
            if need is not None and context.is_wired(number, need):
                continue
            choice = (
                context.need_choice(number, need)
                if need is not None
                else context.choice(exercise.role, (item.network,) if item.network else None)
            )
            if choice.source is None or choice.source.watch is None:
                continue
            seen = context.captures.observation(choice.source.watch)
            yield ExerciseDone(
                item.retrofit.name,
                exercise.role,
                exercise.do,
                exercise.state,
                marks=len(seen.marks),
                answered=sum(mark.is_answered for mark in seen.marks),
                has_moved=seen.has_moved(has_active_states=bool(choice.source.watch.active)),
            )


def need_notes(
    context: PlanContext, needs: Sequence[ProvenNeed], done: Sequence[ExerciseDone]
) -> Iterator[ProveNote]:
    """What of needs and supplies no capture tells, and what decides nothing."""
    for item in context.items:
        name = item.retrofit.name
        own = [need for need in needs if need.item == name]
        for need in own:
            wire = need.result.facts.wire
            if wire is not None:
                yield NotOnTheNetwork(name, need.result.role, wire.from_)
        mapped = {need.result.role for need in own if need.is_supplied}
        supplied = unique(role for supply in item.retrofit.supply for role in supply.roles)
        unmapped = tuple(role for role in supplied if role not in mapped)
        if unmapped:
            yield SupplyUnmapped(name, unmapped)
        optional = [need.result.role for need in own if need.result.optional and is_open(need)]
        if optional:
            yield OptionalNeedOpen(name, tuple(optional))
        for reaction in reactions_of(item.retrofit):
            of = [need for need in own if need.result.role == reaction.role and not is_open(need)]
            if reaction.limit_ms is not None and of and not any(map(reaction.is_told_by, of[0].latencies)):
                yield DelayUnmeasured(name, reaction.role, reaction.cause, reaction.is_end)
        told = {need.result.role for need in own if is_open(need)}
        undone = unique(e.role for e in done if e.item == name and not e.is_done and e.role not in told)
        if undone:
            yield ExercisesOpen(name, undone)


def is_open(need: ProvenNeed) -> bool:
    """Whether it is neither shown nor supplied."""
    return need.result.status not in {Status.SHOWN, Status.SUPPLIED}


def unanswered(before: PlanContext, after: MeasuredSide) -> Iterator[SignalStuck]:
    """Signals that followed none of the marks made after the fitting, on a network that was captured.

    One that followed none before either is no change.
    """
    for watch in after.context.captures.watches:
        seen = after.context.captures.observation(watch)
        if not seen.carried or not seen.marks or any(m.is_answered or m.is_partly for m in seen.marks):
            continue
        earlier = before.captures.observation(watch)
        if earlier.marks and not any(mark.is_answered or mark.is_partly for mark in earlier.marks):
            continue
        message = watch.message
        came = [each for channel in after.channels(watch.network) for each in channel.ids_of(message)]
        declared = FrameId(message.can_id, message.is_extended)
        frame_id = min(came, key=lambda each: each.can_id, default=declared)
        named = ProvenMessage(watch.network, frame_id, message.name)
        yield SignalStuck(named, watch.signal.name, role=watch.role, marks=len(seen.marks))
