"""``netcheck report``."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from enum import StrEnum
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from netcheck.cli import _status as status
from netcheck.cli._find import SearchFor, search_for
from netcheck.cli._inputs import job_inputs
from netcheck.cli._options import CsvOption, ForceOption, NoCacheOption
from netcheck.cli._output import check_new, check_target, json_text, open_output, open_outputs
from netcheck.cli._progress import progress_bar
from netcheck.cli._survey import survey_candidates, survey_file
from netcheck.errors import UsageError
from netcheck.words import unique


class ReportFormat(StrEnum):
    """A page for people, JSON for scripts."""

    HTML = "html"
    JSON = "json"


if TYPE_CHECKING:
    from netcheck.files import When
    from netcheck.verdict import ChannelUse

_ONE = "give a job file, --survey CAPTURE or --find CAPTURE --role ROLE"


def report_command(  # noqa: PLR0913, PLR0917 – each option of a command is a parameter
    job: Annotated[
        Path | None, typer.Argument(metavar="JOB", help="The job file (*.job.toml).", show_default=False)
    ] = None,
    survey: Annotated[
        Path | None,
        typer.Option("--survey", metavar="CAPTURE", help="Every message of a capture, its bytes over time."),
    ] = None,
    find: Annotated[
        Path | None,
        typer.Option("--find", metavar="CAPTURE", help="The bits that follow the marks of --role, drawn."),
    ] = None,
    vehicle: Annotated[
        Path | None, typer.Option("--vehicle", metavar="FILE", help="With --survey: the vehicle file.")
    ] = None,
    dbc: Annotated[
        list[Path] | None,
        typer.Option("--dbc", metavar="PATH", help="With --survey: DBC file or folder. Repeatable."),
    ] = None,
    role: Annotated[
        list[str] | None,
        typer.Option("--role", metavar="ROLE", help="With --find: the role that is looked for. Repeatable."),
    ] = None,
    marks: Annotated[
        Path | None,
        typer.Option("--marks", metavar="FILE", help="With --find: marks file. Default: beside the capture."),
    ] = None,
    at: Annotated[
        list[str] | None,
        typer.Option("--at", metavar="FROM-TO", help="With --find: when it was active, in s. Repeatable."),
    ] = None,
    state: Annotated[
        str | None, typer.Option("--state", metavar="STATE", help="With --find: the marked state.")
    ] = None,
    quiet: Annotated[
        list[Path] | None,
        typer.Option("--quiet", metavar="CAPTURE", help="With --find: nobody touched anything. Repeatable."),
    ] = None,
    output: Annotated[
        Path | None, typer.Option("-o", "--output", metavar="FILE", help="The page, such as job.html.")
    ] = None,
    pdf: Annotated[
        Path | None,
        typer.Option("--pdf", metavar="FILE", help="The same on paper, A4, by an installed Chromium."),
    ] = None,
    force: ForceOption = False,
    format: Annotated[  # noqa: A002
        ReportFormat, typer.Option("--format", help="html for people, json for scripts.", show_default=True)
    ] = ReportFormat.HTML,
    csv: CsvOption = "",
    no_cache: NoCacheOption = False,
) -> int:
    """Write a job as one page to look at, to work from, to print and to hand over.

    The page is one file that loads nothing from anywhere. netcheck sends nothing.
    """
    if sum(source is not None for source in (job, survey, find)) != 1:
        raise UsageError("one thing to report is needed", remedy=_ONE)
    _check_options(survey, find, {"--vehicle": vehicle, "--dbc": dbc}, {"--role": role, "--marks": marks,
        "--at": at, "--state": state, "--quiet": quiet})  # fmt: skip
    targets = _Targets(output, pdf, format, force=force)
    if job is not None:
        _report_job(job, targets, cache=not no_cache)
    elif survey is not None:
        _report_survey(survey, vehicle, dbc or [], targets, csv, cache=not no_cache)
    elif find is not None:
        if not role:
            raise UsageError("--find without --role", remedy="name the role that is looked for")
        asked = SearchFor(unique(role), marks, tuple(at or ()), state, tuple(quiet or ()))
        _report_search(find, asked, targets, csv)
    return status.GO


def _check_options(
    survey: Path | None, find: Path | None, of_survey: dict[str, object], of_find: dict[str, object]
) -> None:
    """Options that would have no effect."""
    for needed, source, options in (("--survey", survey, of_survey), ("--find", find, of_find)):
        idle = [name for name, value in options.items() if value and source is None]
        if idle:
            raise UsageError(f"{' and '.join(idle)} without {needed}", remedy=f"give {needed} CAPTURE, too")


class _Targets:
    """The files to write: the page, its print, or both."""

    def __init__(self, page: Path | None, pdf: Path | None, form: ReportFormat, *, force: bool) -> None:
        if pdf is not None and form is ReportFormat.JSON:
            raise UsageError("--pdf and --format json together", remedy="leave out one of them")
        self._page = page
        self._pdf = pdf
        self._is_json = form is ReportFormat.JSON
        self._force = force

    def check(self, inputs: Sequence[Path]) -> None:
        """Refuse what could not be written, before any long work starts."""
        from netcheck.page import find_browser

        for target in (self._page, self._pdf):
            check_target(target, inputs)
            if target is not None:
                check_new(target, force=self._force)
        if self._page is not None and self._pdf is not None and self._page.resolve() == self._pdf.resolve():
            raise UsageError("-o and --pdf name the same file", remedy="name two files")
        if self._pdf is not None:
            find_browser()

    def write(
        self, page: Callable[[], str], data: Callable[[], dict[str, Any]], inputs: Sequence[Path]
    ) -> None:
        """Page and print together, or none of them. Without a file the page goes to standard output."""
        from netcheck.page import page_pdf

        if self._is_json:
            with open_output(self._page, inputs=inputs) as out:
                out.write(json_text(data()))
            return
        html = page()
        if self._pdf is None:
            with open_output(self._page, inputs=inputs, binary=True) as out:
                out.write(html)
            return
        printed = page_pdf(html)
        with open_outputs(self._page or self._pdf) as together:
            if self._page is not None:
                together.open(self._page, inputs=inputs).write(html)
            together.open(self._pdf, inputs=inputs).buffer.write(printed)


def _report_job(job: Path, targets: _Targets, *, cache: bool) -> None:
    from netcheck.catalogue import load_job
    from netcheck.page import job_json, job_page, wanted_signals
    from netcheck.plan import make_plan
    from netcheck.prove import prove
    from netcheck.traces import read_traces

    loaded = load_job(job)
    inputs = list(job_inputs(loaded))
    targets.check(inputs)
    with progress_bar() as progress:
        plan = make_plan(loaded, cache=cache, progress=progress)
        proof = prove(loaded, cache=cache, progress=progress) if loaded.has_after else None
        uses: dict[When, Sequence[ChannelUse]] = {"before": plan.captures}
        if proof is not None:
            uses["after"] = proof.after
        channels = read_traces(loaded, uses, wanted_signals(plan, proof), cache=cache, progress=progress)
    told = plan, proof, channels
    targets.write(partial(job_page, *told), partial(job_json, *told), inputs)


def _report_survey(
    capture: Path, vehicle: Path | None, dbc: Sequence[Path], targets: _Targets, csv: str, *, cache: bool
) -> None:
    from netcheck.page import survey_page, survey_report_json
    from netcheck.traces import read_heat

    candidates, files = survey_candidates(vehicle, dbc)
    inputs = [capture, *files]
    targets.check(inputs)
    plan = candidates(cache)
    with progress_bar() as progress:
        found = survey_file(capture, plan, progress, csv)
        heat = read_heat(capture, csv=csv, progress=progress)
    targets.write(partial(survey_page, found, heat), partial(survey_report_json, found, heat), inputs)


def _report_search(capture: Path, asked: SearchFor, targets: _Targets, csv: str) -> None:
    from netcheck.page import find_page, find_report_json

    inputs = asked.inputs(capture)
    targets.check(inputs)
    searches, _ = search_for(capture, asked, csv)
    targets.write(partial(find_page, searches), partial(find_report_json, searches), inputs)
