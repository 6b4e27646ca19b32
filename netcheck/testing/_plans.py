"""Plans in tests: a role that must be shown, a job file that must come to its verdict."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import fields
from pathlib import Path

import numpy as np

from netcheck.capture import read_capture
from netcheck.catalogue import load_job
from netcheck.database import decode, load_database
from netcheck.errors import InputError
from netcheck.files import LoadedCapture, LoadedJob, one_of
from netcheck.plan import Plan, make_plan
from netcheck.records import dataclass
from netcheck.report import advice, also_lines, seen_text, verdict_text
from netcheck.testing import _arguments as check
from netcheck.testing._picture import counts, mark_spans, seconds_of, timeline
from netcheck.verdict import ChannelUse, NeedResult, Status, Verdict


@dataclass(frozen=True)
class JobPlan(Plan):
    """A plan that still knows the job it was made from, so that a failure can show the signal itself."""

    loaded: LoadedJob | None = None


def plan_of(path: str | os.PathLike[str]) -> JobPlan:
    """Load a job file and plan it. Raises InputError as both do."""
    job = load_job(path)
    plan = make_plan(job)
    return JobPlan(**{each.name: getattr(plan, each.name) for each in fields(Plan)}, loaded=job)


def assert_shown(plan: Plan, role: str, *, item: str | None = None) -> None:
    """Every need of a role is shown, in all items or in one.

    item: name of its retrofit

    Raises AssertionError with what was seen instead: the plan's own words, and for a plan of
    ``netcheck_plan`` the signal over time, with the marks of the role.
    """
    __tracebackhide__ = True
    check.instance("plan", plan, Plan, "make_plan(load_job(file)) gives one")
    check.instance("role", role, str, f"such as {next(_roles(plan), 'reverse-engaged')}")
    check.text("item", item, "the name of its retrofit")
    items = [each for each in plan.items if item in (None, each.retrofit)]
    if not items:
        names = one_of(item or "", [each.retrofit for each in plan.items])
        raise AssertionError(f"{plan.job} has no item '{item}' – {names}")
    needs = [(each.retrofit, need) for each in items for need in each.needs if need.role == role]
    if not needs:
        roles = dict.fromkeys(need.role for each in items for need in each.needs)
        raise AssertionError(f"no item of {plan.job} needs '{role}' – {one_of(role, roles)}")
    lines = [
        line
        for name, need in needs
        if need.status is not Status.SHOWN
        for line in _not_shown(plan, name, need)
    ]
    if lines:
        raise AssertionError("\n".join(lines))


def _roles(plan: Plan) -> Iterator[str]:
    return (need.role for each in plan.items for need in each.needs)


def _not_shown(plan: Plan, item: str, need: NeedResult) -> Iterator[str]:
    yield f"{need.role} is not shown for {item}: {need.status} ({need.reason})"
    yield f"  {seen_text(need)}"
    yield from (f"  also {text}" for text in also_lines(need))
    if todo := str(advice(need)):
        yield f"  to do: {todo}"
    if isinstance(plan, JobPlan) and plan.loaded is not None:
        yield from (f"  {line}".rstrip() for line in _seen(plan, plan.loaded, need))


def _seen(plan: Plan, job: LoadedJob, need: NeedResult) -> Iterator[str]:
    """The need's signal in each channel that was taken for its network."""
    if need.network is None or need.message is None or need.signal is None:
        return
    captures = {capture.name: capture for capture in job.captures}
    for use in plan.captures:
        if use.network == need.network and use.file in captures:
            yield from _on_channel(job, need, use, captures[use.file])


def _on_channel(job: LoadedJob, need: NeedResult, use: ChannelUse, capture: LoadedCapture) -> Iterator[str]:
    database = load_database(*job.vehicle.dbc_paths(need.network or ""))
    frames = read_capture(capture.path)
    found = decode(frames, database, f"{need.message}.{need.signal}", channel=use.channel)
    series = found[need.message or "", need.signal or ""]
    yield f"{need.message}.{need.signal} on {use.channel} of {use.file}"
    if not len(series):
        yield "  no value"
        return
    end = float(np.max(frames.time_ns) - series.start_ns) / 1e9
    marks = [loaded.mark for loaded in capture.marks if loaded.mark.role == need.role]
    yield from (f"  {line}" for line in timeline(series, 0.0, end))
    if marks:
        yield f"  {mark_spans([(mark.from_, mark.to) for mark in marks], 0.0, end)}"
        yield f"  [==] = marks of {need.role}"
    times = seconds_of(series)
    yield f"  {counts(series)}, {times.min():.3f} s to {times.max():.3f} s"


def job_fault(path: Path) -> str:
    """Why a job file fails as a test; "" when it passes.

    It passes when it comes to the verdict that it expects, and, where it expects none, when it is ``go`` or
    ``go-with-changes``.
    """
    try:
        job = load_job(path)
        plan = make_plan(job)
    except InputError as error:
        return str(error)
    good = {Verdict.GO, Verdict.GO_WITH_CHANGES} if job.expect is None else {Verdict(job.expect)}
    if plan.verdict in good:
        return ""
    wanted = " or ".join(sorted(good))
    said = f'expect = "{job.expect}"' if job.expect else "a job file that expects nothing"
    return f"{path.name}: {plan.verdict}, but {said} needs {wanted}\n\n{verdict_text(plan)}"
