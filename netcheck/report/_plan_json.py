"""A plan as JSON for scripts."""

from __future__ import annotations

import math
from typing import Any, Final

from netcheck.coding import CodingRow, Write
from netcheck.verdict import ChannelUse, ItemResult, NeedResult, Plan, Step

SCHEMA: Final = "netcheck.plan/1"


def plan_json(plan: Plan) -> dict[str, Any]:
    """The plan as an object of plain values, always with the same keys in the same order.

    Lists keep the plan's order. What is unknown is None; times are seconds unless the key says ms.
    """
    return {
        "schema": SCHEMA,
        "job": plan.job,
        "vehicle": plan.vehicle,
        "model_year": plan.model_year,
        "verdict": plan.verdict.value,
        "items": [_item(item) for item in plan.items],
        "writes": [_write(write) for write in plan.writes],
        "next": list(plan.next),
        "checklist": [_step(step) for step in plan.checklist],
        "captures": [_capture(use) for use in plan.captures],
        "warnings": list(plan.warnings),
        "tried": list(plan.tried),
    }


def _item(item: ItemResult) -> dict[str, Any]:
    return {
        "retrofit": item.retrofit,
        "title": item.title,
        "network": item.network,
        "verdict": item.verdict.value,
        "needs": [_need(need) for need in item.needs],
        "coding": [coding_row(row) for row in item.coding],
        "conflicts": [
            {"kind": conflict.kind.value, "text": conflict.text, "next": conflict.next}
            for conflict in item.conflicts
        ],
        "questions": [{"fact": question.fact, "text": question.text} for question in item.questions],
        "cautions": list(item.cautions),
        "notes": list(item.notes),
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
        "max_gap_ms": _finite(need.max_gap_ms),
        "why": need.why,
        "seen": need.seen,
        "also": list(need.also),
        "next": need.next,
        "text": need.text,
    }


def _finite(number: float | None) -> float | None:
    """JSON has no infinity; a limit that is none is none."""
    return number if number is not None and math.isfinite(number) else None


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
    return {"phase": step.phase, "item": step.item, "text": step.text, "caution": step.caution}


def _capture(use: ChannelUse) -> dict[str, Any]:
    return {
        "file": use.file,
        "channel": use.channel,
        "network": use.network,
        "frames": use.frames,
        "seconds": round(use.seconds, 3),
        "declared": use.declared,
        "text": use.text,
        "doubtful": use.is_doubtful,
    }
