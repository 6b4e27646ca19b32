"""A job to its plan: composes roles, evidence, coding, verdicts and the work that is left.

The names of a plan's values are given here too, so that ``from netcheck.plan import Verdict`` works.
"""

from __future__ import annotations

from dataclasses import replace

from netcheck.coding import CodingStatus
from netcheck.files import LoadedItem, LoadedJob
from netcheck.verdict import (
    ChannelUse,
    Conflict,
    ConflictKind,
    ItemCoding,
    ItemResult,
    NeedResult,
    Plan,
    PlanContext,
    Progress,
    Question,
    Reason,
    Status,
    Step,
    Verdict,
    case_of,
    conflicts,
    judge,
    notes,
    plan_context,
    questions,
    request_coding,
    tried,
    vehicle_lint,
)
from netcheck.words import listing
from netcheck.work import checklist, coding_order, next_steps, with_recording

__all__ = [
    "ChannelUse",
    "Conflict",
    "ConflictKind",
    "ItemResult",
    "NeedResult",
    "Plan",
    "Question",
    "Reason",
    "Status",
    "Step",
    "Verdict",
    "make_plan",
    "with_recording",
]

_WORST_LAST = (Verdict.GO, Verdict.GO_WITH_CHANGES, Verdict.UNPROVEN, Verdict.NO_GO)


def make_plan(job: LoadedJob, *, cache: bool = True, progress: Progress | None = None) -> Plan:
    """Judge every item of a job: verdicts with evidence, coding changes, conflicts, checklist.

    Only captures and readouts from before the fitting count.

    cache:    take layouts of DBC files from the user's cache folder, and keep them there
    progress: called now and then while captures are read: name of the capture, bytes done, bytes in all
              (0 if unknown)

    Raises InputError for files that cannot be
    read or do not fit together.
    """
    context = plan_context(job, cache=cache, progress=progress)
    needs = [
        tuple(judge(context, number, need) for need in item.retrofit.need)
        for number, item in enumerate(job.items)
    ]
    codings, unordered = request_coding(context, needs)
    modules = coding_order(job, [write.module for write in unordered])
    writes = tuple(sorted(unordered, key=lambda write: modules.index(write.module)))
    items = tuple(
        _item(context, number, item, needs[number], codings[number]) for number, item in enumerate(job.items)
    )
    uses = context.captures.uses
    return Plan(
        job=job.name,
        vehicle=job.vehicle.model.name,
        model_year=job.model_year,
        verdict=max((item.verdict for item in items), key=_WORST_LAST.index),
        items=items,
        writes=writes,
        checklist=checklist(job, items, writes, uses),
        captures=uses,
        next=next_steps(job, items, writes, uses),
        warnings=tuple(_warnings(context)),
        tried=tuple(_tried(context, items)),
    )


def _item(
    context: PlanContext, number: int, loaded: LoadedItem, needs: tuple[NeedResult, ...], coding: ItemCoding
) -> ItemResult:
    item = ItemResult(
        retrofit=loaded.retrofit.name,
        title=loaded.retrofit.title or loaded.retrofit.name,
        network=loaded.network,
        verdict=Verdict.GO,
        needs=needs,
        coding=coding.rows,
        conflicts=(*conflicts(context, number), *coding.conflicts),
        questions=questions(context, number),
        cautions=loaded.retrofit.cautions,
        notes=notes(context, number),
    )
    return replace(item, verdict=verdict_of(item))


def verdict_of(item: ItemResult) -> Verdict:
    """The first verdict whose condition holds."""
    firm = [need.status for need in item.needs if not need.optional]
    coding = [row.status for row in item.coding]
    if Status.MISSING in firm or item.conflicts:
        return Verdict.NO_GO
    if Status.EXPECTED in firm or item.questions or CodingStatus.UNKNOWN in coding:
        return Verdict.UNPROVEN
    changed = {Status.AFTER_CODING, Status.SUPPLIED}
    if CodingStatus.TO_DO in coding or any(need.status in changed for need in item.needs):
        return Verdict.GO_WITH_CHANGES
    return Verdict.GO


def _warnings(context: PlanContext) -> list[str]:
    warnings = list(context.job.notes)
    for database in context.databases.values():
        warnings += database.warnings
    warnings += vehicle_lint(context)
    for capture in context.captures.captures:
        warnings += [f"{capture.file}: {warning}" for warning in capture.warnings]
    for use in context.captures.uses:
        if use.network is None and use.declared is None:
            warnings.append(
                f"{use.file}: channel {use.channel} is none of this vehicle's networks: {use.text}"
            )
        elif use.is_doubtful:
            warnings.append(
                f"{use.file}: whether channel {use.channel} is {use.network} is doubtful: {use.text}, and "
                "any DBC of that size may fit as many by accident – is it this vehicle, model year and pair?"
            )
    return [*dict.fromkeys(warnings), *_unused_marks(context)]


def _unused_marks(context: PlanContext) -> list[str]:
    """Marks that no need can be judged by, each role once a capture."""
    lines = []
    for capture in context.job.captures:
        heard = {use.network for use in context.captures.uses if use.file == capture.name}
        for role in dict.fromkeys(entry.mark.role for entry in capture.marks if capture.when == "before"):
            carrying = {source.network for source in context.roles.get(role, ())}
            if not carrying:
                why = "the vehicle file does not map it for this model year"
            elif not carrying & heard:
                why = f"no channel there is {listing(sorted(carrying), last='or')}"
            else:
                continue
            lines.append(f"marks of {role} in {capture.name} are not used: {why}")
    return lines


def _tried(context: PlanContext, items: tuple[ItemResult, ...]) -> list[str]:
    lines = [
        f"{use.file} {use.channel}: {use.network or 'no network'}; {use.text}"
        for use in context.captures.uses
    ]
    for number, (loaded, result) in enumerate(zip(context.items, items, strict=True)):
        lines += [
            f"{result.retrofit}: {tried(case_of(context, number, need), seen.reason)}"
            for need, seen in zip(loaded.retrofit.need, result.needs, strict=True)
        ]
    return lines
