"""What to do next, in the order that saves a second trip to the vehicle."""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.coding import Write, order_blocks
from netcheck.files import LoadedJob
from netcheck.verdict import ChannelUse, FactUnknown, ItemResult, Status, Verdict, other_vehicles
from netcheck.words import unique
from netcheck.work._actions import (
    Action,
    CaptureTask,
    ClearUpVehicle,
    DoNotFit,
    FitAndProve,
    LookUpFacts,
    NameChannel,
    PlanAgain,
    PlanBeforeTrip,
    ReadBlocks,
    Record,
    VerifyVehicle,
)
from netcheck.work._desk import desk_work
from netcheck.work._todo import RECAPTURE, captures_to_take, in_write, readouts_to_take, sharing


def next_actions(
    job: LoadedJob,
    items: tuple[ItemResult, ...],
    writes: tuple[Write, ...],
    captures: tuple[ChannelUse, ...],
) -> tuple[Action, ...]:
    """What to do next.

    Desk work comes first, then one trip to the vehicle, then the plan again, then the fitting. What
    several items or needs ask for is said once.
    """
    # What a capture or a readout of another vehicle says is worth nothing: that comes before all else.
    others = list(map(ClearUpVehicle, other_vehicles(job.identity.vin, captures, job.module_readouts)))
    doubts = list(_doubts(captures))
    desk: list[Action] = [*others, *doubts, *desk_work(job, items)]
    questions = [question for item in items for question in item.questions]
    facts = unique(question.fact for question in questions if isinstance(question, FactUnknown))
    file = job.vehicle.file.name
    trip = list(_trip(job, items, captures))
    command = job.file.as_posix() if job.file is not None else None
    steps = [*desk, *([LookUpFacts(facts, file)] if facts else [])]
    if desk and trip:
        steps.append(PlanBeforeTrip(command))
    steps += trip
    if steps:
        name = job.file.name if job.file is not None else None
        steps.append(PlanAgain(command, name, bool(trip), file if facts else None))
    return (*steps, *_in_the_end(job, items, writes))


def _doubts(captures: tuple[ChannelUse, ...]) -> Iterator[Action]:
    """What to make sure of first. A strange channel beside a known one says nothing of the vehicle."""
    is_strange = all(use.network is None and use.declared is None for use in captures)
    for use in captures:
        if use.is_unclear:
            yield NameChannel(use)
        elif use.is_doubtful or (is_strange and not use.is_diagnostics_only):
            yield VerifyVehicle(use)


def _trip(
    job: LoadedJob, items: tuple[ItemResult, ...], captures: tuple[ChannelUse, ...]
) -> Iterator[Action]:
    """One trip: every capture and every readout."""
    tasks, blocks = captures_to_take(job, items, captures), readouts_to_take(job, items)
    yield from record_actions(job, tasks)
    if blocks:
        yield ReadBlocks(tuple((block.module.key, block.did) for block in blocks), is_first=not tasks)


def record_actions(job: LoadedJob, tasks: tuple[CaptureTask, ...]) -> Iterator[Record]:
    """The captures of one trip, in the vehicle file's order."""
    for number, task in enumerate(tasks):
        network = job.vehicle.model.network[task.network]
        yield Record(task, network.bitrate, network.fd_bitrate, network.tap or "", is_first=number == 0)


def _in_the_end(job: LoadedJob, items: tuple[ItemResult, ...], writes: tuple[Write, ...]) -> Iterator[Action]:
    """Fitting, coding and proof of what can be fitted; what cannot be is named."""
    ready = [item for item in items if item.verdict.is_fittable]
    if ready:
        yield _fit_and_prove(job, ready, [item for item in items if not item.verdict.is_fittable], writes)
    for verdict in (Verdict.NO_GO, Verdict.UNPROVEN):
        names = unique(item.retrofit for item in items if item.verdict is verdict)
        if names:
            yield DoNotFit(names, verdict, _may_stay_missing(items) if verdict is Verdict.NO_GO else ())


def _may_stay_missing(items: tuple[ItemResult, ...]) -> tuple[str, ...]:
    """Missing roles that a new capture may still show."""
    return unique(
        need.role
        for item in items
        for need in item.needs
        if need.status is Status.MISSING and need.reason in RECAPTURE and not need.optional
    )


def _fit_and_prove(
    job: LoadedJob, ready: list[ItemResult], stopped: list[ItemResult], writes: tuple[Write, ...]
) -> FitAndProve:
    """A block that also holds a change for a part that is not to be fitted is held back."""
    rows = [row for item in ready for row in item.coding]
    wanted = [write for write in writes if any(in_write(row, write) for row in rows)]
    held = [write for write in wanted if sharing(stopped, ready, write)]
    order = order_blocks(job.vehicle.model, job.model_year, rows)
    to_write = {(write.module, write.did) for write in wanted if write not in held}
    return FitAndProve(
        items=unique(item.retrofit for item in ready),
        modules=unique(place.module for place in order if place.block in to_write),
        held=tuple((write.module, write.did) for write in held),
        others=unique(name for write in held for name in sharing(stopped, ready, write)),
    )
