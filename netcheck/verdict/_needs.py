"""Each need of an item to its result."""

from __future__ import annotations

from netcheck.files import Need
from netcheck.network import FrameId
from netcheck.roles import ResolvedRole
from netcheck.verdict._case import Case
from netcheck.verdict._context import PlanContext
from netcheck.verdict._model import Elsewhere, NeedFacts, NeedResult, Reason
from netcheck.verdict._rules import RULES, STATUS, evidence_of, reasons
from netcheck.words import similar, unique

ALIKE_ROLE = 0.9  # names of other roles are much alike: left-inner, left-outer


def judge(context: PlanContext, item: int, need: Need) -> NeedResult:
    """One need of an item: by a wire of its own, supplied by another item, or what the rules say of it."""
    case = case_of(context, item, need)
    facts = _facts(context, item, case)
    if facts.wire is not None:
        return _result(case, None, Reason.BY_WIRE, "none", (), facts)
    if facts.suppliers:
        return _result(case, None, Reason.BY_ITEM, "none", (), facts)
    first, *rest = reasons(case) or (Reason.OK,)
    also = tuple(reason for reason in unique(rest) if reason is not first)
    return _result(case, case.source, first, evidence_of(case), also, facts)


def case_of(context: PlanContext, item: int, need: Need) -> Case:
    """What the rules look at for one need of an item."""
    networks = context.need_networks(item, need)
    choice = context.choice(need.role, networks)
    source = choice.source
    captures = context.captures.by_network[source.network] if source is not None else None
    return Case(
        need=need,
        network=networks[0] if networks else None,
        source=source,
        elsewhere=choice.elsewhere,
        captures=captures,
        seen=context.captures.observation(source.watch if source is not None else None),
        locked_by=context.locked_by(source) if source is not None else None,
    )


def _facts(context: PlanContext, item: int, case: Case) -> NeedFacts:
    loaded, need, source = context.items[item], case.need, case.source
    mapped = [role for role, entries in context.roles.items() if entries]
    suppliers = context.suppliers(need.role, context.need_networks(item, need), besides=item)
    channels = case.captures.channels if case.captures is not None else ()
    message = source.message if source is not None else None
    signal = source.signal if source is not None else None
    return NeedFacts(
        wired=loaded.network if need.used_by is None else case.network,
        wire=loaded.wire(need.role) if need.used_by is None else None,
        frame_id=FrameId(message.can_id, message.is_extended) if message is not None else None,
        counter=source.entry.counter if source is not None else None,
        similar=() if need.role in mapped else similar(need.role, mapped, ALIKE_ROLE),
        lacks=source.lacks if source is not None else None,
        elsewhere=tuple(_elsewhere(need, other) for other in case.elsewhere),
        seconds=case.captures.seconds if case.captures is not None else 0.0,
        channels=unique(entry.channel.name for entry in channels),
        files=unique(entry.file for entry in channels),
        misdeclared=case.captures.misdeclared if case.captures is not None else (),
        diagnostics=case.captures.diagnostics if case.captures is not None else (),
        doubtful=case.captures.uses if case.captures is not None and case.captures.is_doubtful else (),
        is_sent_at_changes=case.is_sent_at_changes,
        seen=case.seen,
        limits=(signal.minimum, signal.maximum) if signal is not None else (None, None),
        unit=signal.unit if signal is not None else "",
        held=_held(case),
        has_active_states=case.has_active_states,
        locked_by=case.locked_by,
        exercises=tuple(entry.do for entry in loaded.retrofit.exercise if entry.role == need.role),
        suppliers=tuple(context.items[number].retrofit.name for number in suppliers),
        supplied_on=context.items[suppliers[0]].network if suppliers else None,
        asked=tuple((rule.reason, rule.holds(case)) for rule in RULES if need.evidence in rule.asked_by),
    )


def _elsewhere(need: Need, source: ResolvedRole) -> Elsewhere:
    cycle_ms = source.message.cycle_time_ms if source.message is not None else None
    limits = [limit for limit in (need.max_gap_ms, need.max_delay_ms) if limit is not None]
    is_too_rare = cycle_ms is not None and any(cycle_ms > 1.1 * limit for limit in limits)
    return Elsewhere(source.network, source.title, cycle_ms if is_too_rare else None)


def _held(case: Case) -> str | None:
    """The label of the one value that the signal held all the time."""
    raw = case.seen.raw
    if case.source is None or case.source.signal is None or raw.low is None or raw.differ:
        return None
    return case.source.signal.labels.get(int(raw.low)) if float(raw.low).is_integer() else None


def _result(
    case: Case,
    source: ResolvedRole | None,
    reason: Reason,
    evidence: str,
    also: tuple[Reason, ...],
    facts: NeedFacts,
) -> NeedResult:
    return NeedResult(
        role=case.need.role,
        status=STATUS[reason],
        reason=reason,
        evidence=evidence,
        network=source.network if source is not None else _place(case, reason),
        message=source.entry.message if source is not None else None,
        signal=source.entry.signal if source is not None else None,
        optional=case.need.optional,
        asks=case.need.evidence,
        max_gap_ms=case.need.max_gap_ms,
        max_delay_ms=case.need.max_delay_ms,
        used_by=case.need.used_by,
        why=case.need.why,
        also=also,
        facts=facts,
    )


def _place(case: Case, reason: Reason) -> str | None:
    """The network of a need that no signal of the vehicle serves."""
    return None if reason is Reason.BY_WIRE else case.network
