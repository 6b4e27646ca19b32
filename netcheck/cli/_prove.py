"""``netcheck prove``."""

from __future__ import annotations

from typing import Annotated

import typer

from netcheck.cli import _status as status
from netcheck.cli._inputs import job_inputs
from netcheck.cli._options import Format, FormatOption, JobArgument, NoCacheOption, OutputOption
from netcheck.cli._output import check_target, json_text, look, open_output
from netcheck.cli._progress import progress_bar


def prove_command(
    job: JobArgument,
    verbose: Annotated[
        bool, typer.Option("-v", "--verbose", help="Show every delay and every planned change.")
    ] = False,
    format: FormatOption = Format.TEXT,  # noqa: A002
    output: OutputOption = None,
    no_cache: NoCacheOption = False,
) -> int:
    """Compare the vehicle after the fitting with the vehicle before, and with the plan.

    Stands on the job's captures and readouts with when = "after". netcheck sends nothing.
    """
    from netcheck.catalogue import load_job
    from netcheck.prove import prove
    from netcheck.report.proving import prove_json, prove_text

    loaded = load_job(job)
    check_target(output, job_inputs(loaded))
    with progress_bar() as progress:
        proof = prove(loaded, cache=not no_cache, progress=progress)
    if format is Format.JSON:
        text = json_text(prove_json(proof))
    else:
        how = look(output)
        text = prove_text(proof, width=how.width, colour=how.colour, verbose=verbose)
    with open_output(output, inputs=job_inputs(loaded)) as out:
        out.write(text)
    return {"fail": status.NO_GO, "not-shown": status.UNPROVEN}.get(proof.verdict, status.GO)
