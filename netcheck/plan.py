"""A job to its plan: composes roles, evidence, coding, verdicts and the work that is left.

The names of a plan's values are given here too, so that ``from netcheck.plan import Verdict`` works.
"""

from __future__ import annotations

from dataclasses import field
from pathlib import Path

from netcheck.coding import Write, order_blocks
from netcheck.files import LoadedJob, VehicleIdentity
from netcheck.records import dataclass
from netcheck.verdict import (
    ChannelUse,
    Conflict,
    ConflictKind,
    ItemResult,
    NeedResult,
    PlanWarning,
    Progress,
    Question,
    Reason,
    ResourceBalance,
    Status,
    VehicleDoubt,
    Verdict,
    judge_items,
    plan_context,
    warnings_of,
    worst,
)
from netcheck.work import (
    Action,
    Connection,
    NetworkMap,
    Step,
    checklist,
    connections,
    network_map,
    next_actions,
    with_recording,
)

__all__ = [
    "Action",
    "ChannelUse",
    "Conflict",
    "ConflictKind",
    "ItemResult",
    "NeedResult",
    "Plan",
    "PlanWarning",
    "Question",
    "Reason",
    "Status",
    "Step",
    "Verdict",
    "make_plan",
    "with_recording",
]


@dataclass(frozen=True)
class Plan:
    """What a job comes to. ``netcheck.report`` has it in words.

    next:     what to do next, in the order that saves a second trip to the vehicle
    warnings: of captures, DBC files and assumptions
    resources: who gives what to whom
    job_file: the job's file, None where it was put together from options
    identity: which vehicle this is, and whose work
    networks: the vehicle's, with modules and parts on them
    """

    job: str
    vehicle: str
    model_year: int
    verdict: Verdict
    items: tuple[ItemResult, ...]
    writes: tuple[Write, ...]
    checklist: tuple[Step, ...]
    captures: tuple[ChannelUse, ...]
    next: tuple[Action, ...] = ()
    warnings: tuple[PlanWarning, ...] = ()
    resources: tuple[ResourceBalance, ...] = ()
    job_file: Path | None = None
    identity: VehicleIdentity = field(default_factory=VehicleIdentity)
    connections: tuple[Connection, ...] = ()
    networks: NetworkMap = field(default_factory=NetworkMap)


def make_plan(job: LoadedJob, *, cache: bool = True, progress: Progress | None = None) -> Plan:
    """Judge every item of a job: verdicts with evidence, coding changes, conflicts, checklist.

    Only captures and readouts from before the fitting count.

    cache:    take layouts of DBC files from the user's cache folder, and keep them there
    progress: called now and then while captures are read: name of the capture, bytes done, bytes in all
              (0 if unknown)

    Raises InputError for files that cannot be read or do not fit together.
    """
    context = plan_context(job, cache=cache, progress=progress)
    items, unordered = judge_items(context)
    rows = [row for item in items for row in item.coding]
    order = [place.block for place in order_blocks(job.vehicle.model, job.model_year, rows)]
    writes = tuple(sorted(unordered, key=lambda write: order.index((write.module, write.did))))
    uses = context.captures.uses
    warnings = warnings_of(context)
    strangers = [warning for warning in warnings if isinstance(warning, VehicleDoubt)]
    return Plan(
        job=job.name,
        vehicle=job.vehicle.model.name,
        model_year=job.model_year,
        verdict=worst(item.verdict for item in items),
        items=items,
        writes=writes,
        checklist=checklist(context.job, items, writes, uses),
        captures=uses,
        next=next_actions(context.job, items, writes, uses, strangers),
        warnings=warnings,
        resources=context.balances,
        job_file=job.file,
        identity=job.identity,
        connections=connections(context.job),
        networks=network_map(context.job, items, context.balances),
    )
