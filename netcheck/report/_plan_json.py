"""A plan as JSON for scripts."""

from __future__ import annotations

from typing import Any, Final

from netcheck.coding import CodingRow, Write
from netcheck.plan import Plan
from netcheck.report._action_words import next_text, next_texts, step_text
from netcheck.report._customer import customer_text
from netcheck.report._facts import facts_of, finite, kind_of
from netcheck.report._finding_words import finding_next, finding_text, note_text, wait_text, warning_text
from netcheck.report._plan_work import looked_at
from netcheck.report._reason_parts import identity_text
from netcheck.report._reasons import advice, also_lines, need_text, seen_text
from netcheck.verdict import (
    ChannelUse,
    Conflict,
    ItemResult,
    NeedResult,
    OtherBits,
    Question,
    ResourceBalance,
    ResourceWait,
)
from netcheck.work import Step

SCHEMA: Final = "netcheck.plan/1"


def plan_json(plan: Plan) -> dict[str, Any]:
    """The plan as an object of plain values, always with the same keys in the same order.

    Lists keep the plan's order. What is unknown is None; times are seconds unless the key says ms. Beside
    each text stand its kind and the facts that it says, so that a script need not read the text.
    """
    return {
        "schema": SCHEMA,
        "job": plan.job,
        "vehicle": plan.vehicle,
        "model_year": plan.model_year,
        "verdict": plan.verdict.value,
        "items": [_item(item) for item in plan.items],
        "writes": [_write(write) for write in plan.writes],
        "next": next_texts(plan.next),
        "actions": [_told(action, next_text(action)) for action in plan.next],
        "checklist": [_step(step) for step in plan.checklist],
        "captures": [_capture(use) for use in plan.captures],
        "warnings": [warning_text(warning) for warning in plan.warnings],
        "warning_facts": [_told(warning, warning_text(warning)) for warning in plan.warnings],
        "tried": looked_at(plan),
        "resources": [_resource(balance) for balance in plan.resources],
        "identity": plan.identity.model_dump(),
        "connections": [facts_of(link) for link in plan.connections],
    }


def _told(record: object, text: str) -> dict[str, Any]:
    return {"kind": kind_of(record), "text": text, "facts": facts_of(record)}


def _item(item: ItemResult) -> dict[str, Any]:
    return {
        "retrofit": item.retrofit,
        "title": item.title,
        "network": item.network,
        "verdict": item.verdict.value,
        "needs": [_need(need) for need in item.needs],
        "coding": [coding_row(row) for row in item.coding],
        "conflicts": [_finding(conflict) for conflict in item.conflicts],
        "questions": [_question(question) for question in item.questions],
        "customer": customer_text(item),
        "cautions": list(item.cautions),
        "notes": [note_text(note) for note in item.notes],
        "note_facts": [_told(note, note_text(note)) for note in item.notes],
        "waits": [_wait(wait) for wait in item.waits],
    }


def _wait(wait: ResourceWait) -> dict[str, Any]:
    return {
        "resource": wait.resource,
        "needed": wait.needed,
        "ready": wait.ready,
        "givers": [{"item": name, "verdict": verdict.value} for name, verdict in wait.givers],
        "why": wait.why,
        "text": wait_text(wait),
    }


def _resource(balance: ResourceBalance) -> dict[str, Any]:
    return {
        "resource": balance.resource,
        "vehicle": balance.stated,
        "taken_by": list(balance.taken_by),
        "given": [{"item": share.item, "count": share.count} for share in balance.given],
        "used": [
            {"item": share.item, "count": share.count, "optional": share.is_optional}
            for share in balance.used
        ],
        "missing": balance.gap if balance.is_known else None,
    }


def _finding(conflict: Conflict) -> dict[str, Any]:
    return {
        "kind": conflict.kind.value,
        "text": finding_text(conflict),
        "next": " ".join(finding_next(conflict)),
        "facts": {"case": kind_of(conflict), **facts_of(conflict)},
    }


def _question(question: Question) -> dict[str, Any]:
    return {
        "kind": question.kind.value,
        "subject": question.subject,
        **facts_of(question),
        "text": finding_text(question),
    }


def _need(need: NeedResult) -> dict[str, Any]:
    return {
        "role": need.role,
        "status": need.status.value,
        "reason": need.reason.value,
        "evidence": need.evidence,
        "network": need.network,
        "message": need.message,
        "signal": need.signal,
        "optional": need.optional,
        "asks": need.asks,
        "max_gap_ms": finite(need.max_gap_ms),
        "max_delay_ms": finite(need.max_delay_ms),
        "used_by": need.used_by,
        "why": need.why,
        "seen": seen_text(need),
        "also": also_lines(need),
        "next": str(advice(need)),
        "text": need_text(need),
        "also_reasons": [reason.value for reason in need.also],
        "facts": _need_facts(need),
        "peers": facts_of(need.facts.peers) if need.facts.peers else None,
    }


def _need_facts(need: NeedResult) -> dict[str, Any]:
    """Numbers of what was seen; gaps while the network is awake, in ms."""
    facts, seen = need.facts, need.facts.seen
    return {
        "seconds": round(facts.seconds, 3),
        "channels": list(facts.channels),
        "frames": seen.frames,
        "carried": seen.carried,
        "valid": seen.valid,
        "active": seen.active,
        "median_gap_ms": _ms(seen.gaps.percentile_ns(50)),
        "p99_gap_ms": _ms(seen.gaps.percentile_ns(99)),
        "longest_gap_ms": _ms(seen.gaps.longest_ns),
        "marks": len(seen.marks),
        "marks_answered": sum(mark.is_answered for mark in seen.marks),
        "changes": len(seen.change_gaps),
        "sent_at_changes": facts.is_sent_at_changes,
        "suppliers": list(facts.suppliers),
        "elsewhere": [facts_of(entry) for entry in facts.elsewhere],
        "rules": {reason.value: holds for reason, holds in facts.asked},
        "other_bits": None if facts.other_bits is None else _other_bits(facts.other_bits),
    }


def _other_bits(other: OtherBits) -> dict[str, Any]:
    """What moved instead of a signal that never did; bytes and bits from 0, bit 0 the least significant."""
    return {
        "own_bytes": list(other.own),
        "moved": [
            {
                "byte": one.byte,
                "bits": _bits(one.bits),
                "free_bits": _bits(one.free),
                "changes": one.changes,
                "signals": list(one.signals),
            }
            for one in other.moved
        ],
        "follow_marks": [
            {
                "id": str(one.frame_id),
                "message": one.message,
                "byte": one.byte,
                "bits": _bits(one.bits),
                "free_bits": _bits(one.free),
                "signals": list(one.signals),
            }
            for one in other.followers
        ],
    }


def _bits(mask: int) -> list[int]:
    return [bit for bit in range(8) if mask >> bit & 1]


def _ms(time_ns: int | None) -> float | None:
    return None if time_ns is None else round(time_ns / 1e6, 3)


def coding_row(row: CodingRow) -> dict[str, Any]:
    """A coding row under the names that every report gives it."""
    return {
        "module": row.module,
        "did": row.did,
        "field": row.field,
        "from": row.from_,
        "to": row.to,
        "byte": row.byte,
        "before": row.before,
        "after": row.after,
        "mask": row.mask,
        "status": row.status.value,
        "unlock": row.unlock,
        "why": row.why,
    }


def _write(write: Write) -> dict[str, Any]:
    return {"module": write.module, "did": write.did, "before": write.before, "after": write.after}


def _step(step: Step) -> dict[str, Any]:
    return {
        "phase": step.phase,
        "item": step.item,
        "text": step_text(step.action),
        "caution": step.caution,
        "kind": kind_of(step.action),
        "facts": facts_of(step.action),
        "stage": step.stage,
        "items": list(step.items),
        "gate": step.is_gate,
    }


def _capture(use: ChannelUse) -> dict[str, Any]:
    return {
        "file": use.file,
        "channel": use.channel,
        "network": use.network,
        "frames": use.frames,
        "seconds": round(use.seconds, 3),
        "declared": use.declared,
        "text": identity_text(use),
        "doubtful": use.is_doubtful,
        "identity": use.level.value,
        "explained": use.own.explained if use.own is not None else 0,
        "ids": use.ids,
        "rivals": list(use.rivals),
        "has_times": use.has_times,
        "vins": list(use.vins),
    }
