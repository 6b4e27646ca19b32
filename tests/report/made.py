"""Plans made by hand for the van: needs and coding as the rules would give them.

Checklist and next steps are computed, so that the whole text is what a person would read.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from netcheck.coding import CodingRow, CodingStatus, Write
from netcheck.evidence import MarkSeen, Observation
from netcheck.files import LoadedItem, LoadedJob, LoadedVehicle, Retrofit
from netcheck.network import Gaps
from netcheck.plan import Plan
from netcheck.verdict import (
    STATUS,
    ChannelUse,
    Conflict,
    ItemResult,
    NeedFacts,
    NeedResult,
    Question,
    Reason,
    ToldByReader,
    Verdict,
)
from netcheck.work import checklist, connections, next_actions
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


def every(period_ms: float, seconds: float, *, channel: str = "can0", marks: int = 0) -> NeedFacts:
    """A signal that came evenly, with so many marks, all answered."""
    counts = np.array([max(round(seconds * 1000 / period_ms), 1)], np.int64)
    seen = Observation(
        frames=int(counts[0]),
        carried=int(counts[0]),
        valid=int(counts[0]),
        gaps=Gaps(np.array([round(period_ms * 1e6)], np.int64), counts),
        marks=tuple(
            MarkSeen(str(n), "before.log", "active", None, 10.0 * n, 10.0 * n + 3, True, True, 20, 20)
            for n in range(marks)
        ),
    )
    return NeedFacts(seconds=seconds, channels=(channel,), files=("before.log",), seen=seen)


def need(
    retrofit: Retrofit,
    role: str,
    reason: Reason,
    facts: NeedFacts,
    *,
    network: str = "comfort",
    evidence: str = "defined",
    also: tuple[Reason, ...] = (),
) -> NeedResult:
    (asked,) = (entry for entry in retrofit.need if entry.role == role)
    (source,) = (entry for entry in VEHICLE.role[role] if entry.network == network)
    exercises = tuple(entry.do for entry in retrofit.exercise if entry.role == role)
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
        also=also,
        facts=replace(facts, exercises=exercises, wired=network),
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
        next=next_actions(loaded, items, writes, captures),
        warnings=tuple(map(ToldByReader, warnings)),
        job_file=loaded.file,
        connections=connections(loaded),
    )
