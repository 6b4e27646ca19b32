"""A comparison before and after a fitting as JSON for scripts."""

from __future__ import annotations

from typing import Any, Final

from netcheck.prove import Latency, Promise, Proof, ProvenNeed, VehicleChange
from netcheck.report._facts import facts_of, finite, kind_of
from netcheck.report._plan_json import coding_row
from netcheck.report._promise_words import latency_text, promise_text
from netcheck.report._prove_words import (
    change_next,
    change_text,
    prove_note_text,
)
from netcheck.report._reason_parts import identity_text
from netcheck.report._reasons import advice, need_text, seen_text
from netcheck.verdict import ChannelUse

SCHEMA: Final = "netcheck.prove/1"


def prove_json(proof: Proof) -> dict[str, Any]:
    """The comparison as plain values, always with the same keys in the same order.

    ``delay_ms`` of a need is the least, the median and the largest delay; each one stands in ``latencies``.
    ``facts`` beside a text are what it says, so that a script need not read it. ``happened`` of a planned
    change is null where nothing tells.
    """
    return {
        "schema": SCHEMA,
        "job": proof.job,
        "vehicle": proof.vehicle,
        "model_year": proof.model_year,
        "verdict": proof.verdict.value,
        "same_vehicle": proof.sameness.is_same,
        "told_by": {"vin": proof.sameness.vin, "device_numbers": proof.sameness.names},
        "unchanged": proof.unchanged,
        "compared": proof.compared,
        "changes": [_change(change) for change in proof.changes],
        "planned": [_promise(promise) for promise in proof.promises],
        "needs": [_need(need) for need in proof.needs if not need.is_supplied],
        "supplies": [_need(need) for need in proof.needs if need.is_supplied],
        "exercises": [{**facts_of(exercise), "done": exercise.is_done} for exercise in proof.exercises],
        "networks": [facts_of(network) for network in proof.networks],
        "notes": [
            {"kind": kind_of(note), "text": prove_note_text(note), "facts": facts_of(note)}
            for note in proof.notes
        ],
        "captures": [
            *(_capture(use, "before") for use in proof.before),
            *(_capture(use, "after") for use in proof.after),
        ],
    }


def _change(change: VehicleChange) -> dict[str, Any]:
    facts = facts_of(change, "is_planned", "message", "network", "module")
    message = getattr(change, "message", None)
    place: dict[str, Any] = {}
    if message is not None:
        place = {"network": message.network, "id": str(message.frame_id), "name": message.name}
    for key in ("network", "module"):
        value = getattr(change, key, None)
        if value is not None:
            place[key] = value
    return {
        "kind": change.kind.value,
        **place,
        "planned": change.is_planned,
        "text": change_text(change),
        "next": change_next(change),
        "facts": facts,
    }


def _promise(promise: Promise) -> dict[str, Any]:
    message = promise.message
    return {
        "kind": promise.kind.value,
        "item": promise.item,
        "happened": promise.is_kept,
        "network": message.network if message else None,
        "id": str(message.frame_id) if message else None,
        "name": message.name if message else None,
        "coding": coding_row(promise.row) if promise.row else None,
        "found": promise.found,
        "text": promise_text(promise),
    }


def _need(need: ProvenNeed) -> dict[str, Any]:
    result = need.result
    best = next((latency.summary for latency in need.latencies if latency.summary), None)
    return {
        "item": need.item,
        "role": result.role,
        "status": result.status.value,
        "reason": result.reason.value,
        "evidence": result.evidence,
        "network": result.network,
        "message": result.message,
        "signal": result.signal,
        "optional": result.optional,
        "delay_ms": list(best) if best else None,
        "max_delay_ms": finite(result.max_delay_ms),
        "too_late": need.is_too_late,
        "latencies": [_latency(latency, need) for latency in need.latencies],
        "seen": seen_text(result),
        "next": str(advice(result)),
        "text": need_text(result),
    }


def _latency(latency: Latency, need: ProvenNeed) -> dict[str, Any]:
    """foremost: it is one of those to tell first"""
    return {
        **facts_of(latency),
        "too_late": latency.is_too_late,
        "foremost": latency in need.foremost,
        "text": latency_text(latency),
    }


def _capture(use: ChannelUse, when: str) -> dict[str, Any]:
    return {
        "when": when,
        "file": use.file,
        "channel": use.channel,
        "network": use.network,
        "frames": use.frames,
        "seconds": round(use.seconds, 3),
        "identity": use.level.value,
        "text": identity_text(use),
    }
