"""``netcheck plan --years`` and ``--retrofit all``: one vehicle over its model years."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Final

from netcheck.cli import _status as status
from netcheck.cli._inputs import job_inputs
from netcheck.cli._options import Format
from netcheck.cli._output import check_target, json_text, look, open_output
from netcheck.cli._progress import progress_bar
from netcheck.errors import UsageError

if TYPE_CHECKING:
    from netcheck.files import LoadedJob
    from netcheck.plan import Plan

ALL: Final = "all"


def years_of(text: str | None) -> tuple[int, ...] | None:
    """``2017-2022`` or ``2019``; None for None. Raises UsageError."""
    if text is None:
        return None
    found = re.fullmatch(r"(\d{4})(?:-(\d{4}))?", text.strip())
    if found is None:
        raise UsageError(f"--years: '{text}' is no span of model years", remedy="write 2017-2022, or 2019")
    first, last = int(found[1]), int(found[2] or found[1])
    if first > last:
        raise UsageError(f"--years: {first} is after {last}", remedy=f"write {last}-{first}")
    return tuple(range(first, last + 1))


def sources_of_all(
    vehicle: Path, network: str | None, captures: Sequence[Path], year: int | None
) -> list[Callable[[], LoadedJob]]:
    """What loads a job for each shipped retrofit, each alone."""
    from netcheck.catalogue import assemble_job, likely_network, shipped

    def load(name: str) -> LoadedJob:
        where = network or likely_network(vehicle, name)
        return assemble_job(vehicle, [name], network=where, captures=captures, year=year)

    return [partial(load, name) for name in shipped()]


def write_years(
    jobs: Sequence[LoadedJob],
    years: tuple[int, ...] | None,
    *,
    title: str,
    format: Format,  # noqa: A002
    output: Path | None,
    cache: bool,
    beside: Callable[[Plan, LoadedJob], Plan] | None = None,
) -> int:
    """Judge and print. years: None for the jobs' own; beside: see ``plan_years``"""
    from netcheck.report import years_json, years_text
    from netcheck.years import plan_years

    for job in jobs:
        check_target(output, job_inputs(job))
    with progress_bar() as progress:
        wanted = years or (jobs[0].model_year,)
        plan = plan_years(jobs, wanted, title=title, cache=cache, progress=progress, beside=beside)
    how = look(output)
    text = (
        json_text(years_json(plan))
        if format is Format.JSON
        else years_text(plan, width=how.width, colour=how.colour)
    )
    with open_output(output) as out:
        out.write(text)
    return status.GO
