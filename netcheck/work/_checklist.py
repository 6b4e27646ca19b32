"""The checklist: what a person does at the vehicle, for the whole job, in the order that is safe.

Stages and the gates between them: ``_stages``. Inside a stage the work is in the order of the job's items.
"""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.coding import Write
from netcheck.files import HandWork, LoadedItem, LoadedJob, Phase
from netcheck.network import safe_stub
from netcheck.verdict import ChannelUse, FactUnknown, ItemResult, Verdict
from netcheck.words import sentence, unique
from netcheck.work._actions import (
    Action,
    CaptureTask,
    DoByHand,
    FindFact,
    FitWithSupplier,
    MoveWithCare,
    Show,
    WaitForVerdict,
    WantedFact,
)
from netcheck.work._coding_steps import coding_steps, read_back, to_code
from netcheck.work._desk import desk_work
from netcheck.work._exercises import together
from netcheck.work._minding import general_cautions, stage_cautions
from netcheck.work._next import record_actions
from netcheck.work._proofs import proofs
from netcheck.work._ramp_actions import (
    CheckLamps,
    HandOver,
    IdentifyVehicle,
    JoinWire,
    KeepStubsShort,
    MeasureWire,
    PowerDown,
    PowerUp,
    ReadFaults,
    RecordAgain,
    StubLimit,
    TellExclusive,
    TouchNothing,
)
from netcheck.work._stages import Stage, Step, in_order
from netcheck.work._todo import captures_to_take, readouts_to_take, suppliers

Going = list[tuple[LoadedItem, ItemResult]]


def checklist(
    job: LoadedJob,
    items: tuple[ItemResult, ...],
    writes: tuple[Write, ...],
    captures: tuple[ChannelUse, ...],
) -> tuple[Step, ...]:
    """The steps by stage, a gate between each stage and the next. ``items`` stand in the job's order.

    A no-go item has only what could turn it, in ``before``. An unproven one has all phases, each behind
    a caution to wait for the verdict.
    """
    going = [pair for pair in zip(job.items, items, strict=True) if pair[1].verdict is not Verdict.NO_GO]
    work = [*_fit(job, items, going), *_code(job, items, writes, going), *_prove(job, items, going)]
    before = [*_before(job, items, captures, going)]
    stages = {step.stage for step in (*before, *work)}
    cautions = [*stage_cautions(job, items, stages)]
    tasks = captures_to_take(job, items, captures)
    general = [*general_cautions(items, bool(tasks))]
    waits = [*_waits(items, stages)] if work else []
    return tuple(in_order([*general, *cautions, *waits, *before, *work], bool(to_code(items))))


def _waits(items: tuple[ItemResult, ...], stages: set[Stage]) -> Iterator[Step]:
    """An unproven item waits before each phase that has something for it."""
    coded = {id(item) for item, _ in to_code(items)}
    first: dict[Phase, Stage] = {
        "fit": "power-down" if "power-down" in stages else "fit",
        "code": "code",
        "prove": "standing",
    }
    for phase, stage in first.items():
        for item in items:
            if item.verdict is Verdict.UNPROVEN and (phase != "code" or id(item) in coded):
                yield Step(stage, (item.retrofit,), WaitForVerdict(item.retrofit, phase))


# ---------------------------------------------------------------------------- before


def _before(
    job: LoadedJob, items: tuple[ItemResult, ...], captures: tuple[ChannelUse, ...], going: Going
) -> Iterator[Step]:
    yield Step("before", (), IdentifyVehicle(job.identity.vin, job.identity.registration))
    if going:
        yield Step("before", (), ReadFaults("before"))
    for action in (
        *desk_work(job, items),
        *_captures(job, captures_to_take(job, items, captures)),
        *readouts_to_take(job, items),
    ):
        yield Step("before", (), action)
    yield from _facts(items)
    for loaded, item in going:
        for wire in loaded.wires:
            yield Step("before", (item.retrofit,), MeasureWire(wire))
    yield from _hand_work(going, "before")


def _captures(job: LoadedJob, tasks: tuple[CaptureTask, ...]) -> Iterator[Action]:
    """Each capture with its exercises, the least demanding first; running and driving behind a caution."""
    for record in record_actions(job, tasks):
        yield record
        showings = record.task.showings
        marks = {showing.role: showing.mark for showing in showings}
        optional = {showing.role for showing in showings if showing.optional}
        for where in unique(showing.where for showing in showings):
            if where != "standing":
                yield MoveWithCare(where)
            here = (
                (showing.role, showing.do, showing.state) for showing in showings if showing.where == where
            )
            for group in together(here):
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
        yield Step("before", names, FindFact(fact, unique(wanted_by)))


# ---------------------------------------------------------------------------- by hand


def _hand_work(going: Going, phase: Phase) -> Iterator[Step]:
    """The retrofits' own steps of a phase; the same words of several are one step."""
    said: dict[tuple[Stage, str], list[str]] = {}
    for loaded, item in going:
        for step in loaded.retrofit.step:
            if step.phase == phase:
                said.setdefault((_stage(step), sentence(step.text)), []).append(item.retrofit)
    for (stage, text), names in said.items():
        yield Step(stage, unique(names), DoByHand(text))


def _stage(step: HandWork) -> Stage:
    if step.phase == "fit":
        return "power-up" if step.power == "on" else "fit"
    return step.where if step.phase == "prove" else step.phase


def _fit(job: LoadedJob, items: tuple[ItemResult, ...], going: Going) -> Iterator[Step]:
    """Power goes off once, for the first step that needs it, and comes back once."""
    is_cut = any(
        loaded.wires or any(step.phase == "fit" and step.power == "off" for step in loaded.retrofit.step)
        for loaded, _ in going
    )
    if is_cut:
        yield Step("power-down", (), PowerDown())
    for index, item in enumerate(items):
        if item.verdict is Verdict.NO_GO:
            continue
        for other in suppliers(job, items, index):
            if not other.verdict.is_fittable:
                supplier = FitWithSupplier(other.retrofit, other.verdict)
                yield Step("fit", (item.retrofit,), supplier)
    yield from _stubs(job, going)
    going = _givers_first(going)
    if is_cut:
        yield Step("power-up", (), PowerUp())
    yield from _hand_work(going, "fit")
    for loaded, item in going:
        for wire in loaded.wires:
            yield Step("fit", (item.retrofit,), JoinWire(wire))


def _givers_first(going: Going) -> Going:
    """What gives a resource is fitted before what takes it; otherwise in the job's order."""
    left, found = list(going), list[tuple[LoadedItem, ItemResult]]()
    while left:
        ready = (pair for pair in left if not any(_gives(other, pair) for other in left if other is not pair))
        chosen = next(ready, left[0])  # parts that give each other something: as the job has them
        left.remove(chosen)
        found.append(chosen)
    return found


def _gives(giver: tuple[LoadedItem, ItemResult], taker: tuple[LoadedItem, ItemResult]) -> bool:
    given = {entry.resource for entry in giver[0].retrofit.provide}
    return any(entry.resource in given for entry in taker[0].retrofit.use)


def _stubs(job: LoadedJob, going: Going) -> Iterator[Step]:
    here = [pair for pair in going if any(step.phase == "fit" for step in pair[0].retrofit.step)]
    networks = job.vehicle.model.network
    limits = []
    for name in unique(item.network for _, item in here if item.network is not None):
        rate = max(networks[name].bitrate, networks[name].fd_bitrate or 0)
        limits.append(StubLimit(name, safe_stub(rate), rate, networks[name].tap or ""))
    if limits:
        names = unique(item.retrofit for _, item in here if item.network is not None)
        yield Step("fit", names, KeepStubsShort(tuple(limits)))


def _code(
    job: LoadedJob, items: tuple[ItemResult, ...], writes: tuple[Write, ...], going: Going
) -> Iterator[Step]:
    yield from coding_steps(job, items, writes)
    yield from _hand_work(going, "code")
    yield from read_back(job, items)


# ---------------------------------------------------------------------------- prove and hand over


def _prove(job: LoadedJob, items: tuple[ItemResult, ...], going: Going) -> Iterator[Step]:
    if not going:
        return
    yield Step("standing", (), CheckLamps())
    yield Step("standing", (), ReadFaults("after"))
    networks = unique(need.network for _, item in going for need in item.needs if need.network is not None)
    if networks:
        yield Step("standing", (), RecordAgain(networks))
    yield from proofs(job, items)
    yield Step("standing", (), TouchNothing())
    yield from _hand_work(going, "prove")
    yield from _hand_work(going, "handover")
    yield from _exclusions(going)
    yield Step("handover", (), HandOver(bool(to_code(items))))


def _exclusions(going: Going) -> Iterator[Step]:
    """What cannot be used at the same time, each once, with the parts that say so."""
    said: dict[TellExclusive, list[str]] = {}
    for loaded, item in going:
        for entry in loaded.retrofit.exclude:
            said.setdefault(TellExclusive(entry.resources, entry.why), []).append(item.retrofit)
    yield from (Step("handover", unique(names), action) for action, names in said.items())
