"""Plans made by hand for the van: needs and coding as the rules would give them.

Checklist and next steps are computed, so that the whole text is what a person would read.
"""

from __future__ import annotations

from pathlib import Path

from netcheck.coding import CodingRow, CodingStatus, Write
from netcheck.files import LoadedItem, LoadedJob, LoadedVehicle, Retrofit
from netcheck.verdict import ChannelUse, Conflict, ItemResult, NeedResult, Plan, Question, Reason, Verdict
from netcheck.verdict._rules import STATUS
from netcheck.work._checklist import checklist
from netcheck.work._next import next_steps
from tests.report.van import VEHICLE


def job(name: str, *items: tuple[Retrofit, str | None], year: int = 2020) -> LoadedJob:
    return LoadedJob(
        file=Path(f"{name}.job.toml"),
        name=f"{name}.job.toml",
        model_year=year,
        vehicle=LoadedVehicle(Path("skerry_240.vehicle.toml"), VEHICLE),
        items=tuple(
            LoadedItem(retrofit, network, f"shipped: {retrofit.name}", f"item[{index}]")
            for index, (retrofit, network) in enumerate(items)
        ),
        captures=(),
        readouts=(),
    )


def need(
    retrofit: Retrofit,
    role: str,
    reason: Reason,
    seen: str,
    *,
    network: str = "comfort",
    evidence: str = "defined",
    todo: str = "",
    also: tuple[str, ...] = (),
) -> NeedResult:
    (asked,) = (entry for entry in retrofit.need if entry.role == role)
    (source,) = (entry for entry in VEHICLE.role[role] if entry.network == network)
    return NeedResult(
        role=role,
        status=STATUS[reason],
        reason=reason,
        evidence=evidence,
        network=network,
        message=source.message,
        signal=source.signal,
        optional=asked.optional,
        asks=asked.evidence,
        max_gap_ms=asked.max_gap_ms,
        why=asked.why,
        seen=seen,
        also=also,
        next=todo,
        text=" ".join(part for part in (f"{seen}.", *also, todo) if part),
    )


def row(module: str, did: str, field: str, status: CodingStatus, **given: object) -> CodingRow:
    values: dict[str, object] = {
        "from_": None,
        "to": "fitted",
        "byte": 3,
        "before": None,
        "after": None,
        "mask": "20",
        **given,
    }
    return CodingRow(module=module, did=did, field=field, status=status, **values)  # type: ignore[arg-type]


def item(
    retrofit: Retrofit,
    network: str | None,
    verdict: Verdict,
    needs: tuple[NeedResult, ...],
    coding: tuple[CodingRow, ...] = (),
    conflicts: tuple[Conflict, ...] = (),
    questions: tuple[Question, ...] = (),
) -> ItemResult:
    return ItemResult(
        retrofit=retrofit.name,
        title=retrofit.title,
        network=network,
        verdict=verdict,
        needs=needs,
        coding=coding,
        conflicts=conflicts,
        questions=questions,
        cautions=retrofit.cautions,
    )


def plan(
    loaded: LoadedJob,
    verdict: Verdict,
    items: tuple[ItemResult, ...],
    writes: tuple[Write, ...],
    captures: tuple[ChannelUse, ...],
    warnings: tuple[str, ...] = (),
    tried: tuple[str, ...] = (),
) -> Plan:
    return Plan(
        job=loaded.name,
        vehicle=VEHICLE.name,
        model_year=loaded.model_year,
        verdict=verdict,
        items=items,
        writes=writes,
        checklist=checklist(loaded, items, writes, captures),
        captures=captures,
        next=next_steps(loaded, items, writes, captures),
        warnings=warnings,
        tried=tried,
    )
