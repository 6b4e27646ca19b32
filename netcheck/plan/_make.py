"""A job to its plan."""

from __future__ import annotations

from dataclasses import replace

from netcheck.coding import CodingStatus
from netcheck.files import LoadedItem, LoadedJob
from netcheck.plan._checklist import checklist
from netcheck.plan._conflicts import conflicts, notes, questions
from netcheck.plan._ground import Ground, survey_ground
from netcheck.plan._model import ItemResult, NeedResult, Plan, Status, Verdict
from netcheck.plan._needs import case_of, judge, tried
from netcheck.plan._next import next_steps
from netcheck.plan._slips import slips
from netcheck.plan._taps import Progress
from netcheck.plan._todo import coding_order
from netcheck.plan._wishes import ItemCoding, plan_wishes
from netcheck.words import listing

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
    ground = survey_ground(job, cache=cache, progress=progress)
    needs = [
        tuple(judge(ground, number, need) for need in item.retrofit.need)
        for number, item in enumerate(job.items)
    ]
    codings, unordered = plan_wishes(ground, needs)
    modules = coding_order(job, [write.module for write in unordered])
    writes = tuple(sorted(unordered, key=lambda write: modules.index(write.module)))
    items = tuple(
        _item(ground, number, item, needs[number], codings[number]) for number, item in enumerate(job.items)
    )
    uses = ground.taps.uses
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
        warnings=tuple(_warnings(ground)),
        tried=tuple(_tried(ground, items)),
    )


def _item(
    ground: Ground, number: int, loaded: LoadedItem, needs: tuple[NeedResult, ...], coding: ItemCoding
) -> ItemResult:
    item = ItemResult(
        retrofit=loaded.retrofit.name,
        title=loaded.retrofit.title or loaded.retrofit.name,
        network=loaded.network,
        verdict=Verdict.GO,
        needs=needs,
        coding=coding.rows,
        conflicts=(*conflicts(ground, number), *coding.conflicts),
        questions=questions(ground, number),
        cautions=loaded.retrofit.cautions,
        notes=notes(ground, number),
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


def _warnings(ground: Ground) -> list[str]:
    warnings = list(ground.job.notes)
    for database in ground.databases.values():
        warnings += database.warnings
    warnings += slips(ground)
    for capture in ground.taps.captures:
        warnings += [f"{capture.file}: {warning}" for warning in capture.warnings]
    for use in ground.taps.uses:
        if use.network is None and use.declared is None:
            warnings.append(
                f"{use.file}: channel {use.channel} is none of this vehicle's networks: {use.text}"
            )
        elif use.is_doubtful:
            warnings.append(
                f"{use.file}: whether channel {use.channel} is {use.network} is doubtful: {use.text}, and "
                "any DBC of that size may fit as many by accident – is it this vehicle, model year and pair?"
            )
    return [*dict.fromkeys(warnings), *_unused_marks(ground)]


def _unused_marks(ground: Ground) -> list[str]:
    """Marks that no need can be judged by, each role once a capture."""
    lines = []
    for capture in ground.job.captures:
        heard = {use.network for use in ground.taps.uses if use.file == capture.name}
        for role in dict.fromkeys(entry.mark.role for entry in capture.marks if capture.when == "before"):
            carrying = {source.network for source in ground.sources.get(role, ())}
            if not carrying:
                why = "the vehicle file does not map it for this model year"
            elif not carrying & heard:
                why = f"no channel there is {listing(sorted(carrying), last='or')}"
            else:
                continue
            lines.append(f"marks of {role} in {capture.name} are not used: {why}")
    return lines


def _tried(ground: Ground, items: tuple[ItemResult, ...]) -> list[str]:
    lines = [
        f"{use.file} {use.channel}: {use.network or 'no network'}; {use.text}" for use in ground.taps.uses
    ]
    for number, (loaded, result) in enumerate(zip(ground.items, items, strict=True)):
        lines += [
            f"{result.retrofit}: {tried(case_of(ground, number, need), seen.reason)}"
            for need, seen in zip(loaded.retrofit.need, result.needs, strict=True)
        ]
    return lines
