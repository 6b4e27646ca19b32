"""The checklist: what a person does at the vehicle, in phases, to be worked through on paper."""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.coding import CodingPlace, CodingRow, CodingStatus, Write, order_blocks
from netcheck.files import LoadedItem, LoadedJob
from netcheck.verdict import ChannelUse, FactUnknown, ItemResult, Status, Verdict
from netcheck.words import clause, sentence, unique
from netcheck.work._actions import (
    Action,
    CaptureTask,
    CodeOnceRead,
    CodeWithCare,
    CodingTurn,
    DoByHand,
    FindFact,
    FitWithSupplier,
    HoldBlock,
    LeaveUnfitted,
    Mind,
    OnlyListen,
    Phase,
    Prove,
    ProveWithoutExercise,
    ReadBack,
    RecordAgain,
    Show,
    Step,
    WaitForVerdict,
    WantedFact,
    WriteBlock,
)
from netcheck.work._desk import desk_work
from netcheck.work._exercises import together
from netcheck.work._next import record_actions
from netcheck.work._todo import (
    captures_to_take,
    in_write,
    module_title,
    readouts_to_take,
    suppliers,
)


def checklist(
    job: LoadedJob,
    items: tuple[ItemResult, ...],
    writes: tuple[Write, ...],
    captures: tuple[ChannelUse, ...],
) -> tuple[Step, ...]:
    """The steps in phases: before, fit, code, prove. ``items`` stand in the job's order.

    A no-go item has only what could turn it, in ``before``. An unproven one has all phases, each behind
    a caution to wait for the verdict.
    """
    return (
        *_before(job, items, captures),
        *_fit(job, items),
        *_code(job, items, writes),
        *_prove(job, items),
    )


def _before(
    job: LoadedJob, items: tuple[ItemResult, ...], captures: tuple[ChannelUse, ...]
) -> Iterator[Step]:
    tasks = captures_to_take(job, items, captures)
    yield from _cautions(items, bool(tasks))
    for action in (
        *desk_work(job, items),
        *_captures(job, tasks),
        *readouts_to_take(job, items),
    ):
        yield Step("before", "", action)
    yield from _facts(items)
    for loaded, item in zip(job.items, items, strict=True):
        if item.verdict is not Verdict.NO_GO:
            yield from _hand_work(loaded, "before")


def _cautions(items: tuple[ItemResult, ...], recording: bool) -> Iterator[Step]:
    """What holds for the whole job first, then each item's own."""
    no_go = unique(item.retrofit for item in items if item.verdict is Verdict.NO_GO)
    if no_go:
        yield Step("before", "", LeaveUnfitted(no_go))
    if recording:
        yield Step("before", "", OnlyListen())
    said: dict[str, list[str]] = {}
    for item in items:
        for caution in item.cautions:
            said.setdefault(sentence(caution), []).append(item.retrofit)
    owned = [(_one(unique(names)), text) for text, names in said.items()]
    for owner in ("", *unique(item.retrofit for item in items)):
        for name, text in owned:
            if name == owner:
                yield Step("before", owner, Mind(text))


def _one(names: tuple[str, ...]) -> str:
    """The item a step belongs to; "" for one that several share."""
    return names[0] if len(names) == 1 else ""


def _captures(job: LoadedJob, tasks: tuple[CaptureTask, ...]) -> Iterator[Action]:
    for record in record_actions(job, tasks):
        yield record
        showings = record.task.showings
        marks = {showing.role: showing.mark for showing in showings}
        optional = {showing.role for showing in showings if showing.optional}
        for group in together((showing.role, showing.do, showing.state) for showing in showings):
            marked = tuple(role for role in group.roles if marks[role])
            has_range = any(marks[role] == "range" for role in marked)
            yield Show(group, marked, has_range, optional.issuperset(group.roles))


def _facts(items: tuple[ItemResult, ...]) -> Iterator[Step]:
    asked: dict[str, list[WantedFact]] = {}
    for item in items:
        for question in item.questions:
            if isinstance(question, FactUnknown):
                wanted = WantedFact(item.retrofit, question.any_of, question.why)
                asked.setdefault(question.fact, []).append(wanted)
    for fact, wanted_by in asked.items():
        names = unique(wanted.item for wanted in wanted_by)
        yield Step("before", _one(names), FindFact(fact, unique(wanted_by)))


def _hand_work(loaded: LoadedItem, phase: Phase) -> Iterator[Step]:
    for step in loaded.retrofit.step:
        if step.phase == phase:
            yield Step(phase, loaded.retrofit.name, DoByHand(step.text))


def _fit(job: LoadedJob, items: tuple[ItemResult, ...]) -> Iterator[Step]:
    for index, (loaded, item) in enumerate(zip(job.items, items, strict=True)):
        if item.verdict is Verdict.NO_GO:
            continue
        yield from _wait(item, "fit")
        for other in suppliers(job, items, index):
            if not other.verdict.is_fittable:
                yield Step("fit", item.retrofit, FitWithSupplier(other.retrofit, other.verdict))
        yield from _hand_work(loaded, "fit")


def _wait(item: ItemResult, phase: Phase) -> Iterator[Step]:
    if item.verdict is Verdict.UNPROVEN:
        yield Step(phase, item.retrofit, WaitForVerdict(item.retrofit, phase))


def _code(job: LoadedJob, items: tuple[ItemResult, ...], writes: tuple[Write, ...]) -> Iterator[Step]:
    going = [item for item in items if item.verdict is not Verdict.NO_GO]
    rows = [(item, row) for item in going for row in item.coding if row.did is not None]
    to_do = [(item, row) for item, row in rows if row.status in {CodingStatus.TO_DO, CodingStatus.UNKNOWN}]
    if to_do:
        yield Step("code", "", CodeWithCare())
    for item in going:
        if any(owner is item for owner, _ in to_do):
            yield from _wait(item, "code")
    stopped = [(item.retrofit, row) for item in items if item.verdict is Verdict.NO_GO for row in item.coding]
    ordered = order_blocks(job.vehicle.model, job.model_year, [row for _, row in to_do])
    several = len({place.module for place in ordered}) > 1
    for place in ordered:
        block = [(item.retrofit, row) for item, row in to_do if (row.module, row.did) == place.block]
        write = next((entry for entry in writes if (entry.module, entry.did) == place.block), None)
        owner = _one(unique(name for name, _ in block))
        yield Step(
            "code", owner, _block(job, block, write, stopped, coding_turn(job, place, several=several))
        )
    for loaded, item in zip(job.items, items, strict=True):
        if item.verdict is not Verdict.NO_GO:
            yield from _hand_work(loaded, "code")
    if to_do:
        yield Step("code", "", ReadBack(job.file.as_posix() if job.file is not None else None))


def coding_turn(job: LoadedJob, place: CodingPlace, *, several: bool) -> CodingTurn | None:
    """Why a block stands where it does; None where nothing says so. several: modules are coded"""
    module = job.vehicle.model.module.get(place.module)
    stated = module if several and module is not None and module.coding_order is not None else None
    together = tuple(" ".join(block) for block in place.together)
    if stated is None and not place.afters and not together:
        return None
    return CodingTurn(
        stated.coding_place if stated is not None else None,
        stated.coding_why if stated is not None else "",
        place.afters,
        together,
    )


def _block(
    job: LoadedJob,
    block: list[tuple[str, CodingRow]],
    write: Write | None,
    stopped: list[tuple[str, CodingRow]],
    turn: CodingTurn | None,
) -> Action:
    """One block: old to new; or why it cannot be written as it stands."""
    first = block[0][1]
    module, did = module_title(job, first.module), first.did or ""
    rows = tuple({row.field: row for _, row in block}.values())  # several items may want the same change
    if write is None or any(row.status is CodingStatus.UNKNOWN for row in rows):
        return CodeOnceRead(module, did, rows, turn)
    held = unique(name for name, row in stopped if in_write(row, write))
    if held:
        return HoldBlock(module, did, held, turn)
    return WriteBlock(module, write, rows, turn)


def _prove(job: LoadedJob, items: tuple[ItemResult, ...]) -> Iterator[Step]:
    going = [pair for pair in zip(job.items, items, strict=True) if pair[1].verdict is not Verdict.NO_GO]
    for _, item in going:
        yield from _wait(item, "prove")
    networks = unique(need.network for _, item in going for need in item.needs if need.network is not None)
    if networks:
        yield Step("prove", "", RecordAgain(networks))
    for index, (loaded, item) in enumerate(zip(job.items, items, strict=True)):
        if item.verdict is Verdict.NO_GO:
            continue
        yield from _exercises(loaded, item, suppliers(job, items, index))
        yield from _hand_work(loaded, "prove")


def _exercises(loaded: LoadedItem, item: ItemResult, from_items: tuple[ItemResult, ...]) -> Iterator[Step]:
    """Every exercise of the retrofit, then the needs that none of them shows, in one line.

    An optional need that is missing is left out: there is nothing to prove.
    """
    missing = {need.role for need in item.needs if need.status is Status.MISSING}
    needs = {need.role: need for need in item.needs if need.role not in missing}
    exercises = [entry for entry in loaded.retrofit.exercise if entry.role not in missing]
    for group in together((exercise.role, exercise.do, exercise.state) for exercise in exercises):
        shown = [needs[role] for role in group.roles if role in needs]
        is_supplied = any(need.status is Status.SUPPLIED for need in shown)
        action = Prove(
            group,
            whys=unique(clause(need.why) for need in shown),
            suppliers=unique(other.retrofit for other in from_items) if is_supplied else (),
            is_after_coding=any(need.status is Status.AFTER_CODING for need in shown),
        )
        yield Step("prove", item.retrofit, action)
    rest = unique(role for role in needs if role not in {exercise.role for exercise in exercises})
    if rest:
        yield Step("prove", item.retrofit, ProveWithoutExercise(rest))
