"""``netcheck report``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from netcheck.cli import _status as status
from netcheck.cli._inputs import job_inputs
from netcheck.cli._options import ForceOption, JobArgument, NoCacheOption
from netcheck.cli._output import check_new, check_target, open_output
from netcheck.cli._progress import progress_bar


def report_command(
    job: JobArgument,
    force: ForceOption = False,
    output: Annotated[
        Path | None,
        typer.Option("-o", "--output", metavar="FILE", help="The page, such as job.html."),
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
    check_target(output, inputs)
    if output is not None:
        check_new(output, force=force)
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
    with open_output(output, inputs=inputs, binary=True) as out:
        out.write(job_page(plan, proof, channels))
    return status.GO
