"""``netcheck prove``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from netcheck.cli import _status as status
from netcheck.cli._inputs import job_inputs
from netcheck.cli._options import Format, FormatOption, JobArgument, NoCacheOption, OutputOption
from netcheck.cli._output import check_target, json_text, look, open_output
from netcheck.cli._peers import PeersOption, held_beside
from netcheck.cli._progress import progress_bar

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netcheck.archive import WantedCapture


def prove_command(
    job: JobArgument,
    archive: PeersOption = None,
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
    beside = held_beside(archive, lambda: after_captures(job), output, cache=not no_cache)
    if format is Format.JSON:
        text = json_text({**prove_json(proof), "peers": beside.json()})
    else:
        how = look(output)
        text = prove_text(proof, width=how.width, colour=how.colour, verbose=verbose) + beside.text(how)
    with open_output(output, inputs=job_inputs(loaded)) as out:
        out.write(text)
    return {"fail": status.NO_GO, "not-shown": status.UNPROVEN}.get(proof.verdict, status.GO)


def after_captures(job: Path) -> Iterator[WantedCapture]:
    """The captures of a job that are from after the fitting."""
    from netcheck.archive import CaptureFacts, find_captures

    captures = find_captures([str(job)], CaptureFacts()).captures
    return (wanted for wanted in captures if wanted.fitting == "after")
