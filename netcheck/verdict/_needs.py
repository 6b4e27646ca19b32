"""Each need of an item to its result."""

from __future__ import annotations

from netcheck.files import Need
from netcheck.verdict._advice import next_text
from netcheck.verdict._case import Case, make_case
from netcheck.verdict._context import PlanContext
from netcheck.verdict._model import NeedResult, Reason
from netcheck.verdict._rules import RULES, STATUS, evidence_of, reasons
from netcheck.verdict._texts import also_text, longer_gaps, seen_text
from netcheck.words import listing, sentence, similar

ALIKE_ROLE = 0.9  # names of other roles are much alike: left-inner, left-outer


def case_of(context: PlanContext, item: int, need: Need) -> Case:
    """What the rules look at for one need of an item."""
    loaded = context.items[item]
    mapped = [role for role, entries in context.roles.items() if entries]
    return make_case(
        need,
        loaded.network,
        context.choice(need.role, loaded.network),
        context.captures,
        locked_by=context.locked_by,
        exercises=tuple(entry for entry in loaded.retrofit.exercise if entry.role == need.role),
        near="" if need.role in mapped else similar(need.role, mapped, ALIKE_ROLE),
    )


def judge(context: PlanContext, item: int, need: Need) -> NeedResult:
    """One need of an item: supplied by another item, or what the rules say of it."""
    case = case_of(context, item, need)
    suppliers = context.suppliers(need.role, case.network, besides=item)
    if suppliers:
        names = [context.items[number].retrofit.name for number in suppliers]
        network = context.items[suppliers[0]].network
        seen = f"{listing(names)} sends it on {network}"
        return _result(case, Reason.BY_ITEM, "none", seen, (), next_text(case, Reason.BY_ITEM))
    holding = reasons(case)
    first, *rest = holding or (Reason.OK,)
    also = tuple(f"{reason}: {also_text(case, reason)}" for reason in dict.fromkeys(rest) if reason != first)
    return _result(case, first, evidence_of(case), seen_text(case, first), also, next_text(case, first))


def _result(
    case: Case, reason: Reason, evidence: str, seen: str, also: tuple[str, ...], next_: str
) -> NeedResult:
    source = case.source if reason is not Reason.BY_ITEM else None
    parts = (sentence(seen[:1].upper() + seen[1:]), *(sentence(f"Also {entry}") for entry in also), next_)
    return NeedResult(
        role=case.need.role,
        status=STATUS[reason],
        reason=reason,
        evidence=evidence,
        network=source.network if source is not None else case.network,
        message=source.entry.message if source is not None else None,
        signal=source.entry.signal if source is not None else None,
        optional=case.need.optional,
        asks=case.need.evidence,
        max_gap_ms=case.need.max_gap_ms,
        why=case.need.why,
        seen=seen,
        also=also,
        next=next_,
        text=" ".join(part for part in parts if part),
        longer_gaps=longer_gaps(case) if reason is not Reason.BY_ITEM else "",
    )


def tried(case: Case, reason: Reason) -> str:
    """All that was looked at for a need, for those who want to see it."""
    title = f"{case.need.role}, asks for {case.need.evidence}"
    if case.source is None:
        return f"{title}: {reason}"
    seen = case.seen
    counts = (
        f"frames {seen.frames}, too short {seen.too_short}, carried {seen.carried}, "
        f"no value {seen.unavailable}, out of range {seen.out_of_range}, "
        f"valid {seen.valid}, active {seen.active}, inactive {seen.inactive}, "
        f"gaps {len(seen.gaps)}, counter steps {seen.steps}, still {seen.still}, jumps {seen.jumps}, "
        f"marks {sum(mark.is_answered for mark in seen.marks)}/{len(seen.marks)}, outside {seen.outside}"
    )
    asked = [rule for rule in RULES if case.need.evidence in rule.asked_by]
    verdicts = ", ".join(f"{rule.reason} {'YES' if rule.holds(case) else 'no'}" for rule in asked)
    place = f"{case.source.title} on {case.source.network}"
    return f"{title}: {place}: {counts}. Rules: {verdicts}. Result: {reason}"
