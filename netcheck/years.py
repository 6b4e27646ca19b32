"""One vehicle over its model years: which parts can be fitted, and what changes the answer."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import fields, replace
from typing import Final, Literal

from netcheck.coding import CodingStatus
from netcheck.errors import UsageError
from netcheck.files import LoadedJob, year_problem
from netcheck.plan import Plan, make_plan
from netcheck.records import dataclass
from netcheck.verdict import Conflict, ItemResult, Progress, Status, Verdict

GroundKind = Literal[
    "conflict", "missing", "expected", "question", "not-read", "after-coding", "supplied", "to-do"
]
_NEEDS: Final[tuple[tuple[Status, GroundKind], ...]] = (
    (Status.AFTER_CODING, "after-coding"),
    (Status.SUPPLIED, "supplied"),
)


@dataclass(frozen=True)
class Ground:
    """Why an item has its verdict. code: stable reason or kind; subject: a role, fact, module or field."""

    kind: GroundKind
    code: str
    subject: str


@dataclass(frozen=True)
class YearCell:
    """An item in a model year.

    first:   the first reason that the year before did not have; in the first year its first reason
    is_gone: there is no new reason, and ``first`` is one that the year before had
    is_own:  the job's own year, where it has captures, readouts or wires: they count here
    peers:   expected needs that moved on other vans of the year, of how many; None without an archive
    """

    year: int
    verdict: Verdict
    first: Ground | None = None
    is_gone: bool = False
    is_own: bool = False
    peers: tuple[int, int] | None = None


@dataclass(frozen=True)
class YearsRow:
    """An item over the years."""

    retrofit: str
    network: str | None
    cells: tuple[YearCell, ...]


@dataclass(frozen=True)
class YearsPlan:
    """All items over the years. title: the job, or what it was put together from"""

    vehicle: str
    title: str
    years: tuple[int, ...]
    rows: tuple[YearsRow, ...]


Beside = Callable[[Plan, LoadedJob], Plan]


def plan_years(
    jobs: Sequence[LoadedJob],
    years: Sequence[int],
    *,
    title: str = "",
    cache: bool = True,
    progress: Progress | None = None,
    beside: Beside | None = None,
) -> YearsPlan:
    """Each item of each job in each model year; jobs of one vehicle are judged one without the other.

    In other years than a job's own its captures, readouts and wires are left out.

    beside: adds to each plan what decides nothing, such as what an archive knows of the year

    Raises UsageError for a year that the vehicle file does not span; see ``make_plan`` for the rest.
    """
    vehicle = jobs[0].vehicle
    for year in years:
        problem = year_problem(vehicle.model, year, ())
        if problem:
            raise UsageError(f"--years: {problem.what} ({vehicle.file})", remedy=problem.remedy)
    rows: list[YearsRow] = []
    for job in jobs:
        in_years = [_in_year(job, year) for year in years]
        plans = [make_plan(each, cache=cache, progress=progress) for each in in_years]
        if beside is not None:
            plans = [beside(plan, each) for plan, each in zip(plans, in_years, strict=True)]
        for number, item in enumerate(plans[0].items):
            results = [plan.items[number] for plan in plans]
            rows.append(YearsRow(item.retrofit, item.network, tuple(_cells(job, years, results))))
    return YearsPlan(vehicle.model.name, title or jobs[0].name, tuple(years), tuple(rows))


def _in_year(job: LoadedJob, year: int) -> LoadedJob:
    if year == job.model_year:
        return job
    items = tuple(replace(item, wires=()) for item in job.items)
    return replace(job, model_year=year, items=items, captures=(), readouts=(), module_readouts=(), notes=())


def _cells(job: LoadedJob, years: Sequence[int], results: Sequence[ItemResult]) -> Iterator[YearCell]:
    has_read = job.readouts or job.module_readouts
    has_own = bool(job.captures or has_read or any(item.wires for item in job.items))
    own = job.model_year if has_own else None
    before: tuple[Ground, ...] = ()
    for year, result in zip(years, results, strict=True):
        now = tuple(grounds(result))
        new = next((ground for ground in now if ground not in before), None)
        gone = next((ground for ground in before if ground not in now), None)
        yield YearCell(
            year,
            result.verdict,
            new or gone,
            is_gone=new is None and gone is not None,
            is_own=year == own,
            peers=_peers(result),
        )
        before = now


def _peers(result: ItemResult) -> tuple[int, int] | None:
    expected = [need for need in result.needs if need.status is Status.EXPECTED]
    known = [need.facts.peers for need in expected if need.facts.peers is not None]
    return (sum(peers.moved > 0 for peers in known), len(expected)) if known else None


def grounds(item: ItemResult) -> Iterator[Ground]:
    """All that an item's verdict rests on, the worst first; optional needs decide nothing."""
    firm = [need for need in item.needs if not need.optional]
    for conflict in item.conflicts:
        yield Ground("conflict", conflict.kind.value, _subject(conflict))
    for need in firm:
        if need.status is Status.MISSING:
            yield Ground("missing", need.reason.value, need.role)
    for need in firm:
        if need.status is Status.EXPECTED:
            yield Ground("expected", need.reason.value, need.role)
    for question in item.questions:
        yield Ground("question", question.kind.value, question.subject)
    yield from _fields(item, CodingStatus.UNKNOWN, "not-read")
    for status, kind in _NEEDS:
        for need in item.needs:
            if need.status is status:
                yield Ground(kind, need.reason.value, need.role)
    yield from _fields(item, CodingStatus.TO_DO, "to-do")


def _fields(item: ItemResult, status: CodingStatus, kind: GroundKind) -> Iterator[Ground]:
    for row in item.coding:
        if row.status is status:
            yield Ground(kind, kind, f"{row.module}.{row.field}")


def _subject(conflict: Conflict) -> str:
    """The first name that a conflict holds."""
    values = (getattr(conflict, field.name) for field in fields(conflict))
    return next((str(value) for value in values if value), "")
