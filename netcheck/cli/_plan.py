"""``netcheck plan``."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from netcheck.cli import _status as status
from netcheck.cli._inputs import job_inputs
from netcheck.cli._options import Format, FormatOption, NoCacheOption, OutputOption
from netcheck.cli._output import Look, check_target, json_text, look, note, open_output
from netcheck.cli._progress import progress_bar
from netcheck.errors import InputError, NetcheckError, UsageError

if TYPE_CHECKING:
    from netcheck.files import LoadedJob
    from netcheck.plan import Plan

Source = Callable[[], "LoadedJob"]


def plan_command(  # noqa: PLR0913, PLR0917 – each option of a command is a parameter
    jobs: Annotated[
        list[Path] | None,
        typer.Argument(metavar="JOB", help="Job files (*.job.toml).", show_default=False),
    ] = None,
    vehicle: Annotated[
        Path | None,
        typer.Option("--vehicle", metavar="FILE", help="The vehicle file, if you have no job file."),
    ] = None,
    retrofit: Annotated[
        list[str] | None,
        typer.Option(
            "--retrofit", metavar="NAME", help="Name of a shipped retrofit, or a retrofit file. Repeatable."
        ),
    ] = None,
    network: Annotated[
        str | None, typer.Option("--network", metavar="NAME", help="The network that the parts are wired to.")
    ] = None,
    capture: Annotated[
        list[Path] | None,
        typer.Option("--capture", metavar="FILE", help="A capture of this vehicle. Repeatable."),
    ] = None,
    year: Annotated[
        int | None, typer.Option("--year", metavar="YEAR", help="The model year. Default: the last one.")
    ] = None,
    verbose: Annotated[
        bool, typer.Option("-v", "--verbose", help="Show every message and rule that was checked.")
    ] = False,
    sheet: Annotated[
        bool,
        typer.Option(
            "--sheet", help="The checklist for paper: numbered pages with boxes, gates, bytes and signatures."
        ),
    ] = False,
    format: FormatOption = Format.TEXT,  # noqa: A002
    output: OutputOption = None,
    no_cache: NoCacheOption = False,
) -> int:
    """Say for each part of a job whether it can be fitted, what proves it and what must be done.

    netcheck reads captures of the vehicle only. It sends nothing and writes nothing to it.
    """
    own = {
        "--vehicle": vehicle,
        "--retrofit": retrofit,
        "--network": network,
        "--capture": capture,
        "--year": year,
    }
    given = [name for name, value in own.items() if value not in (None, [])]
    check_target(output, jobs or ())
    sources = [_from_file(path) for path in jobs or ()]
    if not sources:
        sources = [_assembled(vehicle, retrofit or [], network, capture or [], year)]
    elif given:
        raise UsageError(
            f"a job file and {' '.join(given)} together",
            remedy="write it into the job file, or leave out the job file",
        )
    if sheet and (format is Format.JSON or verbose):
        raise UsageError("--sheet with --format json or -v", remedy="leave out one of them")
    plans, codes = _make(sources, output, not no_cache)
    if plans:
        if format is Format.JSON:
            text = _json(plans, len(sources))
        else:
            text = _sheets(plans) if sheet else _text(plans, look(output), verbose)
        with open_output(output) as out:
            out.write(text)
    return status.worst(codes)


def _from_file(path: Path) -> Source:
    def load() -> LoadedJob:
        from netcheck.catalogue import load_job

        return load_job(path)

    return load


def _assembled(
    vehicle: Path | None,
    retrofits: Sequence[str],
    network: str | None,
    captures: Sequence[Path],
    year: int | None,
) -> Source:
    if vehicle is None or not retrofits:
        raise UsageError(
            "nothing to plan",
            remedy="name a job file, or give --vehicle and --retrofit; see 'netcheck plan --help'",
        )

    def load() -> LoadedJob:
        from netcheck.catalogue import assemble_job

        return assemble_job(vehicle, retrofits, network=network, captures=captures, year=year)

    return load


def _make(sources: Sequence[Source], output: Path | None, cache: bool) -> tuple[list[Plan], list[int]]:
    """The plans of the jobs that can be planned, and every job's exit status.

    With several jobs, one that cannot be read is reported at once and the others are still planned.
    """
    from netcheck.plan import make_plan

    plans, codes = [], []
    for source in sources:
        try:
            job = source()
            check_target(output, job_inputs(job))
            with progress_bar() as progress:
                plan = make_plan(job, cache=cache, progress=progress)
        except NetcheckError as error:
            if len(sources) == 1:
                raise
            if isinstance(error, InputError):
                check_target(output, [Path(error.file)])  # as faulty as it is, it is an input
            note(str(error))
            codes.append(status.BAD_INPUT)
        else:
            plans.append(plan)
            codes.append(status.of_verdict(plan.verdict))
    return plans, codes


def _text(plans: Sequence[Plan], how: Look, verbose: bool) -> str:
    from netcheck.report import plan_text

    texts = [plan_text(plan, width=how.width, colour=how.colour, verbose=verbose) for plan in plans]
    return "\n\n".join(text.rstrip("\n") + "\n" for text in texts)


def _sheets(plans: Sequence[Plan]) -> str:
    from netcheck.report import sheet_text

    return "\f".join(sheet_text(plan) for plan in plans)


def _json(plans: Sequence[Plan], asked: int) -> str:
    """One object for one job, an array for several."""
    from netcheck.report import plan_json

    found: list[dict[str, Any]] = [plan_json(plan) for plan in plans]
    return json_text(found[0] if asked == 1 else found)
