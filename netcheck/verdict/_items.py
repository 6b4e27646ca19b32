"""Items of a job to their verdicts, and what a person should know about what they stand on."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import Final

from netcheck.coding import CodingRow, CodingStatus, Write
from netcheck.errors import InputError
from netcheck.files import LoadedItem
from netcheck.roles import diagnostic_addresses
from netcheck.verdict._beside import with_other_bits
from netcheck.verdict._clocks import clocks_apart
from netcheck.verdict._coding_requests import ItemCoding, request_coding
from netcheck.verdict._conflicts import conflicts, notes, questions
from netcheck.verdict._context import PlanContext
from netcheck.verdict._editions import edition_questions
from netcheck.verdict._fields_left import fields_left
from netcheck.verdict._item_note_model import ResourcesExclusive
from netcheck.verdict._lint import vehicle_lint
from netcheck.verdict._model import ItemResult, NeedResult, Status, Verdict
from netcheck.verdict._needs import judge
from netcheck.verdict._resources import (
    ResourceBalance,
    lower_by_resources,
    missing_resources,
    unknown_resources,
)
from netcheck.verdict._vehicles import other_vehicles
from netcheck.verdict._warnings import (
    DoubtfulChannel,
    MarksUnused,
    PlanWarning,
    RepairedDbc,
    StrangeChannel,
    ToldByReader,
)
from netcheck.words import unique

MOST_FINDINGS: Final = 20_000  # of a job
_WORST_LAST: Final = (Verdict.GO, Verdict.GO_WITH_CHANGES, Verdict.UNPROVEN, Verdict.NO_GO)


def worst(verdicts: Iterable[Verdict]) -> Verdict:
    """The verdict of all of them together."""
    return max(verdicts, key=_WORST_LAST.index)


def judge_items(context: PlanContext) -> tuple[tuple[ItemResult, ...], tuple[Write, ...]]:
    """Every item in the job's order, and the coding blocks to write for all of them together.

    Raises InputError for a job with more conflicts and questions than anybody reads.
    """
    judged = [
        tuple(judge(context, number, need) for need in item.retrofit.need)
        for number, item in enumerate(context.items)
    ]
    needs = with_other_bits(context, judged)
    codings, writes = request_coding(context, needs)
    balances = context.balances
    rows = tuple(row for coding in codings for row in coding.rows)
    items: list[ItemResult] = []
    found = 0
    for number, loaded in enumerate(context.items):
        items.append(_item(context, number, loaded, needs[number], codings[number], balances, rows))
        found += len(items[-1].conflicts) + len(items[-1].questions)
        if found > MOST_FINDINGS:
            raise InputError(
                context.job.file or context.job.name,
                f"its parts have more than {MOST_FINDINGS:,} conflicts and questions",
                remedy="plan fewer parts at a time",
            )
    return lower_by_resources(tuple(items), context.items, balances, verdict_of), writes


def _item(
    context: PlanContext,
    number: int,
    loaded: LoadedItem,
    needs: tuple[NeedResult, ...],
    coding: ItemCoding,
    balances: tuple[ResourceBalance, ...],
    rows: tuple[CodingRow, ...],
) -> ItemResult:
    """rows: of the coding of all items"""
    item = ItemResult(
        retrofit=loaded.retrofit.name,
        title=loaded.retrofit.title or loaded.retrofit.name,
        network=loaded.network,
        verdict=Verdict.GO,
        needs=needs,
        coding=coding.rows,
        conflicts=(
            *conflicts(context, number),
            *coding.conflicts,
            *missing_resources(loaded, balances),
        ),
        questions=(
            *questions(context, number),
            *unknown_resources(loaded, balances),
            *edition_questions(context, number, coding.rows),
        ),
        cautions=loaded.retrofit.cautions,
        notes=(*notes(context, number), *_exclusive(loaded), *fields_left(context, number, rows)),
        customer=loaded.retrofit.customer,
        dangers=tuple(entry.text for entry in loaded.retrofit.caution if entry.phase == "handover"),
    )
    return replace(item, verdict=verdict_of(item))


def _exclusive(loaded: LoadedItem) -> Iterator[ResourcesExclusive]:
    for entry in loaded.retrofit.exclude:
        yield ResourcesExclusive(entry.resources, entry.why)


def verdict_of(item: ItemResult) -> Verdict:
    """The first verdict whose condition holds."""
    firm = [need.status for need in item.needs if not need.optional]
    coding = [row.status for row in item.coding]
    if Status.MISSING in firm or item.conflicts:
        return Verdict.NO_GO
    if Status.EXPECTED in firm or item.questions or CodingStatus.UNKNOWN in coding or item.waits:
        return Verdict.UNPROVEN
    changed = {Status.AFTER_CODING, Status.SUPPLIED}
    if CodingStatus.TO_DO in coding or any(need.status in changed for need in item.needs):
        return Verdict.GO_WITH_CHANGES
    return Verdict.GO


def warnings_of(context: PlanContext) -> tuple[PlanWarning, ...]:
    """What the files and captures of a job make a person aware of, each thing once."""
    return unique(_warnings(context))


def _warnings(context: PlanContext) -> Iterator[PlanWarning]:
    yield from map(ToldByReader, context.job.notes)
    for database in context.databases.values():
        yield from map(ToldByReader, database.warnings)
        yield from map(RepairedDbc, database.repairs)
    yield from vehicle_lint(context)
    for capture in context.captures.captures:
        yield from (ToldByReader(text, capture.file) for text in capture.warnings)
    job = context.job
    yield from other_vehicles(
        job.identity.vin,
        context.captures,
        job.module_readouts,
        frozenset(diagnostic_addresses(job.vehicle.model, job.model_year)),
    )
    for use in context.captures.uses:
        if use.network is None and use.declared is None:
            yield StrangeChannel(use)
        elif use.is_doubtful:
            yield DoubtfulChannel(use)
    yield from clocks_apart(context.job, context.captures)
    yield from _unused_marks(context)


def _unused_marks(context: PlanContext) -> Iterator[PlanWarning]:
    """Marks that no need can be judged by, each role once a capture."""
    for capture in context.job.captures:
        if capture.when != "before":
            continue
        here = {use.network for use in context.captures.uses if use.file == capture.name}
        for role in unique(entry.mark.role for entry in capture.marks):
            carrying = {source.network for source in context.roles.get(role, ())}
            if not carrying & here:
                yield MarksUnused(role, capture.name, tuple(sorted(carrying)))
