"""``netcheck plan``."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from netcheck.cli import _status as status
from netcheck.cli._inputs import job_inputs
from netcheck.cli._options import Format, FormatOption, NoCacheOption, OutputOption
from netcheck.cli._output import Look, check_target, json_text, look, note, open_output
from netcheck.cli._plan_withdraw import write_withdrawal
from netcheck.cli._plan_years import ALL, sources_of_all, write_years, years_of
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
            "--retrofit",
            metavar="NAME",
            help="A shipped retrofit, or a retrofit file. Repeatable. all: a table of each by itself.",
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
    years: Annotated[
        str | None,
        typer.Option("--years", metavar="YEARS", help="A table over model years, such as 2017-2022."),
    ] = None,
    withdraw: Annotated[
        str | None,
        typer.Option("--withdraw", metavar="NAME", help="What to write back when this part leaves the job."),
    ] = None,
    sheet: Annotated[
        bool,
        typer.Option(
            "--sheet", help="The checklist for paper: numbered pages with boxes, gates, bytes and signatures."
        ),
    ] = False,
    archive: Annotated[
        Path | None,
        typer.Option(
            "--archive",
            metavar="FOLDER",
            help="An archive: what other vans of the model year showed of open needs. It decides nothing.",
        ),
    ] = None,
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
        sources = _assembled(vehicle, retrofit or [], network, capture or [], year)
    elif given:
        raise UsageError(
            f"a job file and {' '.join(given)} together",
            remedy="write it into the job file, or leave out the job file",
        )
    cache, is_all = not no_cache, retrofit == [ALL]
    _check_views({"--years": years, "--withdraw": withdraw, "--sheet": sheet, "-v": verbose}, format)
    if archive is not None and withdraw is not None:
        raise UsageError("--archive with --withdraw", remedy="leave out one of them")
    if years is not None or is_all:
        title = "all shipped retrofits" if is_all else ""
        found = [source() for source in _one_job(sources, "--years", is_all)]
        with _beside(archive, output) as beside:
            return write_years(
                found,
                years_of(years),
                title=title,
                format=format,
                output=output,
                cache=cache,
                beside=beside,
            )
    if withdraw is not None:
        (source,) = _one_job(sources, "--withdraw", is_all)
        return write_withdrawal(source(), withdraw, format=format, output=output, cache=cache)
    plans, codes = _make(sources, output, cache, archive)
    if plans:
        with open_output(output) as out:
            out.write(_written(plans, len(sources), format, look(output), sheet=sheet, verbose=verbose))
    return status.worst(codes)


def _check_views(given: dict[str, object], format: Format) -> None:  # noqa: A002
    """A page shows one thing."""
    named = [name for name, value in given.items() if value]
    if len(named) > 1:
        raise UsageError(f"{' and '.join(named)} together", remedy="leave out all but one of them")
    if named == ["--sheet"] and format is Format.JSON:
        raise UsageError("--sheet and --format json together", remedy="leave out one of them")


def _one_job(sources: Sequence[Source], option: str, is_all: bool) -> Sequence[Source]:
    if len(sources) > 1 and not is_all:
        raise UsageError(f"{option} with several jobs", remedy="give one job")
    return sources


def _written(
    plans: Sequence[Plan],
    asked: int,
    format: Format,  # noqa: A002
    how: Look,
    *,
    sheet: bool,
    verbose: bool,
) -> str:
    if format is Format.JSON:
        return _json(plans, asked)
    return _sheets(plans) if sheet else _text(plans, how, verbose)


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
) -> list[Source]:
    """One job of all retrofits; for the word all, one job for each shipped retrofit."""
    if vehicle is None or not retrofits:
        raise UsageError(
            "nothing to plan",
            remedy="name a job file, or give --vehicle and --retrofit; see 'netcheck plan --help'",
        )

    if list(retrofits) == [ALL]:
        return sources_of_all(vehicle, network, captures, year)

    def load() -> LoadedJob:
        from netcheck.catalogue import assemble_job

        return assemble_job(vehicle, retrofits, network=network, captures=captures, year=year)

    return [load]


def _make(
    sources: Sequence[Source], output: Path | None, cache: bool, archive: Path | None
) -> tuple[list[Plan], list[int]]:
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
            with _beside(archive, output) as beside:
                plan = beside(plan, job) if beside else plan
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


@contextmanager
def _beside(folder: Path | None, output: Path | None) -> Iterator[Callable[[Plan, LoadedJob], Plan] | None]:
    """What an archive adds to a plan; None without an archive."""
    if folder is None:
        yield None
        return
    from netcheck.archive import Archive, open_store, with_peers

    store = open_store(folder)
    check_target(output, store.files())
    with Archive(store) as archive:
        yield lambda plan, job: with_peers(plan, job, archive)


def _text(plans: Sequence[Plan], how: Look, verbose: bool) -> str:
    from netcheck.report import plan_text

    texts = [
        plan_text(plan, width=how.width, colour=how.colour, verbose=verbose, height=how.height)
        for plan in plans
    ]
    return "\n\n".join(text.rstrip("\n") + "\n" for text in texts)


def _sheets(plans: Sequence[Plan]) -> str:
    from netcheck.report import sheet_text

    return "\f".join(sheet_text(plan) for plan in plans)


def _json(plans: Sequence[Plan], asked: int) -> str:
    """One object for one job, an array for several."""
    from netcheck.report import plan_json

    found: list[dict[str, Any]] = [plan_json(plan) for plan in plans]
    return json_text(found[0] if asked == 1 else found)
