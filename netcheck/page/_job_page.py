"""The page of a job: all that plan and proof say, to look at, to work from and to keep."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

from markupsafe import Markup

from netcheck.page._coding import coding_blocks
from netcheck.page._document import REPORT_SCHEMA, render
from netcheck.page._drawing import network_drawing
from netcheck.page._handover import handover_values
from netcheck.page._load import load_data
from netcheck.page._signals import chart_data, signal_key, strips
from netcheck.page._work_order import work_order
from netcheck.plan import Plan
from netcheck.prove import Proof, ProveVerdict
from netcheck.report.viewing import (
    STAGE_TITLES,
    STATUS_SIGNS,
    STATUS_WORDS,
    VERDICT_SIGNS,
    VERDICT_WORDS,
    counts_of,
    headline,
    in_one_line,
    plan_json,
    plan_reasons,
    prove_headline,
    prove_json,
    prove_next,
    prove_reasons,
    summary,
    vehicle_text,
)
from netcheck.traces import ChannelTrace
from netcheck.verdict import Status
from netcheck.words import sentence
from netcheck.work import Mind

_PROVE_SIGNS: Final = {
    ProveVerdict.PASS: "+",
    ProveVerdict.PASS_WITH_NOTES: "+",
    ProveVerdict.NOT_SHOWN: "?",
    ProveVerdict.FAIL: "X",
}


def job_page(plan: Plan, proof: Proof | None = None, channels: Sequence[ChannelTrace] = ()) -> str:
    """The page of a job as HTML.

    proof:    of a job that has captures or readouts from after the fitting
    channels: the captures over time, with the signals of ``wanted_signals``
    """
    told = plan_json(plan)
    load, drawn = load_data(channels), strips(channels)
    parts = [
        ("verdict", "Verdict"),
        ("next", "Next"),
        ("cautions", "Cautions"),
        ("needs", "Signals"),
        *([("networks", "Networks")] if plan.networks.networks else []),
        *([("after", "Before and after")] if proof else []),
        ("coding", "Coding"),
        *([("load", "Load")] if load else []),
        ("work", "Work order"),
        ("handover", "For the customer"),
        ("ground", "Sources"),
    ]
    values = {
        "parts": parts,
        "has_signals": bool(drawn),
        "load": load,
        "job": plan.job,
        "vehicle": plan.vehicle,
        "model_year": plan.model_year,
        "identity": _identity(plan),
        "verdict": {"kind": plan.verdict.value, "sign": VERDICT_SIGNS[plan.verdict]},
        "headline": headline(plan),
        "reasons": list(plan_reasons(plan)),
        "items": _items(plan, told, proof),
        "proof": None if proof is None else _proof(proof),
        "next": prove_next(proof) if proof else told["next"],
        "dangers": _dangers(plan),
        "needs": _needs(plan, told, proof, drawn),
        "drawing": network_drawing(plan.networks),
        "coding": coding_blocks(plan),
        "work": work_order(plan),
        "handover": handover_values(plan, proof),
        "captures": told["captures"],
        "warnings": told["warnings"],
    }
    store = [plan.job, plan.vehicle, plan.model_year, plan.identity.vin or "", plan.identity.reference]
    data = {"store": store, "signals": chart_data(channels), "load": load}
    return render("job.html.j2", data, values, ["charts", "work"])


def job_json(plan: Plan, proof: Proof | None = None, channels: Sequence[ChannelTrace] = ()) -> dict[str, Any]:
    """The same for scripts: plan, proof, and what the charts read. Times of rows are steps of 0.1 ms."""
    return {
        "schema": REPORT_SCHEMA,
        "plan": plan_json(plan),
        "proof": prove_json(proof) if proof else None,
        "signals": chart_data(channels),
        "load": load_data(channels),
    }


def wanted_signals(plan: Plan, proof: Proof | None = None) -> frozenset[tuple[str, str]]:
    """(role, network) of every signal that the page can show over time."""
    needs = [need for item in plan.items for need in item.needs]
    needs += [need.result for need in proof.needs] if proof else []
    return frozenset((need.role, need.network) for need in needs if need.network is not None)


def _identity(plan: Plan) -> list[tuple[str, str]]:
    """What tells this vehicle and this job from others; "" leaves room to write."""
    known = plan.identity
    odometer = f"{known.odometer_km:,} km" if known.odometer_km is not None else ""
    return [
        ("Vehicle", f"{plan.vehicle}, model year {plan.model_year}"),
        ("VIN", known.vin or ""),
        ("Registration", known.registration),
        ("Odometer", odometer),
        ("Job number", known.reference),
        ("Technician", known.technician),
    ]


def _items(plan: Plan, told: dict[str, Any], proof: Proof | None) -> list[dict[str, Any]]:
    return [
        {
            **as_json,
            "word": VERDICT_WORDS[item.verdict],
            "sign": VERDICT_SIGNS[item.verdict],
            "summary": sentence(summary(item)),
            "after": sentence(counts_of(proof, item.retrofit)) if proof else "",
        }
        for item, as_json in zip(plan.items, told["items"], strict=True)
    ]


def _dangers(plan: Plan) -> list[dict[str, str]]:
    """Cautions of the checklist, in its order; each text once."""
    found: dict[str, dict[str, str]] = {}
    for step in plan.checklist:
        if isinstance(step.action, Mind):
            danger = step.action.danger
            found.setdefault(
                sentence(step.action.text), {"danger": danger, "stage": STAGE_TITLES[step.stage]}
            )
    return [{"text": text, **entry} for text, entry in found.items()]


def _proof(proof: Proof) -> dict[str, Any]:
    is_other = proof.sameness.is_same is False
    return {
        **prove_json(proof),
        "sign": "X" if is_other else _PROVE_SIGNS[proof.verdict],
        "kind": ProveVerdict.FAIL.value if is_other else proof.verdict.value,
        "headline": prove_headline(proof),
        "is_other": is_other,
        "one_line": in_one_line(proof),
        "vehicle_text": vehicle_text(proof),
        "reasons": [(label, sentence(text)) for label, text in prove_reasons(proof)],
    }


def _needs(
    plan: Plan, told: dict[str, Any], proof: Proof | None, drawn: Mapping[str, list[Markup]]
) -> list[dict[str, Any]]:
    """Per item its needs, and the roles that it supplies where the proof looked for them."""
    after = list(_after(proof)) if proof else []
    found = []
    for number, (item, as_json) in enumerate(zip(plan.items, told["items"], strict=True)):
        rows = [
            _need(need, next((row for row in after if _is_same(row, item.retrofit, need)), None))
            for need in as_json["needs"]
        ]
        supplies = [_supplied(row) for row in after if row["item"] == item.retrofit and row["is_supplied"]]
        for place, row in enumerate([*rows, *supplies]):
            key = signal_key(row["role"], row["network"])
            row |= {"signal_key": key, "strips": drawn.get(key, []), "row_id": f"signal-{number}-{place}"}
        found.append({"item": item.retrofit, "title": item.title, "rows": [*rows, *supplies]})
    return found


def _after(proof: Proof) -> Iterator[dict[str, Any]]:
    told = prove_json(proof)
    for key in ("needs", "supplies"):
        for row in told[key]:
            yield {**row, "is_supplied": key == "supplies"}


def _is_same(row: dict[str, Any], item: str, need: dict[str, Any]) -> bool:
    return (row["item"], row["role"], row["is_supplied"]) == (item, need["role"], False)


def _need(need: dict[str, Any], after: dict[str, Any] | None) -> dict[str, Any]:
    return {**need, "is_supplied": False, "before": _state(need), "after": _later(after)}


def _supplied(row: dict[str, Any]) -> dict[str, Any]:
    return {**row, "asks": "", "why": "", "also": [], "before": None, "after": _later(row)}


def _later(row: dict[str, Any] | None) -> dict[str, Any] | None:
    if row is None:
        return None
    delays = [entry["text"] for entry in row["latencies"] if entry["foremost"]]
    return {**_state(row), "delays": delays, "too_late": row["too_late"]}


def _state(need: dict[str, Any]) -> dict[str, Any]:
    """Sign and word of a need's state: an optional one that is open decides nothing."""
    status = Status(need["status"])
    is_idle = need["optional"] and status in {Status.MISSING, Status.EXPECTED}
    return {
        "kind": "idle" if is_idle else status.value,
        "sign": "–" if is_idle else STATUS_SIGNS[status],
        "word": STATUS_WORDS[status],
        "evidence": need["evidence"],
        "seen": need["seen"],
        "next": need["next"],
    }
