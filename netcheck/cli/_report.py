"""``netcheck report``."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from netcheck.cli import _status as status
from netcheck.cli._inputs import job_inputs
from netcheck.cli._options import ForceOption, JobArgument, NoCacheOption
from netcheck.cli._output import check_new, check_target, open_output, open_outputs
from netcheck.cli._progress import progress_bar
from netcheck.errors import UsageError


def report_command(
    job: JobArgument,
    force: ForceOption = False,
    output: Annotated[
        Path | None,
        typer.Option("-o", "--output", metavar="FILE", help="The page, such as job.html."),
    ] = None,
    pdf: Annotated[
        Path | None,
        typer.Option("--pdf", metavar="FILE", help="The same on paper, A4, by an installed Chromium."),
    ] = None,
    no_cache: NoCacheOption = False,
) -> int:
    """Write a job as one page to look at, to work from, to print and to hand over.

    The page is one file that loads nothing from anywhere. netcheck sends nothing.
    """
    from netcheck.catalogue import load_job
    from netcheck.page import job_page, wanted_signals
    from netcheck.plan import make_plan
    from netcheck.prove import prove
    from netcheck.traces import read_traces

    loaded = load_job(job)
    inputs = list(job_inputs(loaded))
    check_pages(output, pdf, inputs, force=force)
    with progress_bar() as progress:
        plan = make_plan(loaded, cache=not no_cache, progress=progress)
        proof = prove(loaded, cache=not no_cache, progress=progress) if loaded.has_after else None
        channels = read_traces(
            loaded,
            {"before": plan.captures, "after": proof.after if proof else ()},
            wanted_signals(plan, proof),
            cache=not no_cache,
            progress=progress,
        )
    write_pages(job_page(plan, proof, channels), output, pdf, inputs)
    return status.GO


def check_pages(output: Path | None, pdf: Path | None, inputs: Sequence[Path], *, force: bool) -> None:
    """Refuse what could not be written, before any long work starts."""
    from netcheck.page import find_browser

    for target in (output, pdf):
        check_target(target, inputs)
        if target is not None:
            check_new(target, force=force)
    if output is not None and pdf is not None and output.resolve() == pdf.resolve():
        raise UsageError("-o and --pdf name the same file", remedy="name two files")
    if pdf is not None:
        find_browser()


def write_pages(html: str, output: Path | None, pdf: Path | None, inputs: Sequence[Path]) -> None:
    """The page, its print, or both: together, or none of them."""
    from netcheck.page import page_pdf

    if pdf is None:
        with open_output(output, inputs=inputs, binary=True) as out:
            out.write(html)
        return
    printed = page_pdf(html)
    with open_outputs(output or pdf) as together:
        if output is not None:
            together.open(output, inputs=inputs).write(html)
        together.open(pdf, inputs=inputs).buffer.write(printed)
