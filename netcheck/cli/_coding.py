"""``netcheck coding``."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from netcheck.cli import _status as status
from netcheck.cli._inputs import job_inputs
from netcheck.cli._options import Format, FormatOption, JobArgument, NoCacheOption, OutputOption
from netcheck.cli._output import check_target, json_text, look, open_output
from netcheck.cli._progress import progress_bar

if TYPE_CHECKING:
    from netcheck.files import LoadedReadout
    from netcheck.report import CodingCase


def coding_command(
    job: JobArgument,
    readback: Annotated[
        Path | None,
        typer.Option(
            "--readback",
            metavar="FILE",
            help="Readouts file with the blocks as read after writing. Default: the job's 'after' readouts.",
        ),
    ] = None,
    format: FormatOption = Format.TEXT,  # noqa: A002
    output: OutputOption = None,
    no_cache: NoCacheOption = False,
) -> int:
    """Show the coding of a job: old and new bytes, how to revert, and whether a later readout holds it.

    netcheck writes nothing to a vehicle. Use your own authorised equipment.
    """
    case = _case(job, readback, output, not no_cache)
    if format is Format.JSON:
        from netcheck.report import coding_json

        text = json_text(coding_json(case))
    else:
        from netcheck.report import coding_text

        how = look(output)
        text = coding_text(case, width=how.width, colour=how.colour)
    with open_output(output) as out:
        out.write(text)
    return _status(case)


def _case(path: Path, readback: Path | None, output: Path | None, cache: bool) -> CodingCase:
    from netcheck.catalogue import load_job
    from netcheck.coding import compare_readback
    from netcheck.files import load_readback
    from netcheck.plan import make_plan
    from netcheck.report import CodingCase

    job = load_job(path)
    check_target(output, [*job_inputs(job), *([readback] if readback else [])])
    if readback is not None:
        after = load_readback(readback, job.vehicle, job.model_year).blocks
        source = readback.as_posix()
    else:
        after = tuple(readout for readout in job.readouts if readout.when == "after")
        source = "the job's readouts from after the fitting"
    with progress_bar() as progress:
        plan = make_plan(job, cache=cache, progress=progress)
    if not after:
        return CodingCase(job, plan)
    rows = [row for item in plan.items for row in item.coding]
    before = _blocks(readout for readout in job.readouts if readout.when == "before")
    model, year = job.vehicle.model, job.model_year
    return CodingCase(
        job, plan, compare_readback(model, year, rows, plan.writes, before, _blocks(after)), source
    )


def _blocks(readouts: Iterable[LoadedReadout]) -> dict[tuple[str, int], bytes]:
    return {(readout.module, readout.did): readout.data for readout in readouts}


def _status(case: CodingCase) -> int:
    """Of the comparison where there is a later readout; else whether all of this may be written now."""
    if case.readback is not None:
        if case.readback.is_wrong:
            return status.NO_GO
        return status.UNPROVEN if case.readback.is_unsure else status.GO
    codes = [status.of_verdict(case.worst(write)) for write in case.plan.writes]
    if case.is_stopped:
        codes.append(status.NO_GO)
    if case.is_unknown:
        codes.append(status.UNPROVEN)
    return status.worst(codes)
