"""``netcheck coding``."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from netcheck.cli import _status as status
from netcheck.cli._inputs import job_inputs
from netcheck.cli._options import Format, FormatOption, JobArgument, NoCacheOption, OutputOption
from netcheck.cli._output import check_target, json_text, look, note, open_output
from netcheck.cli._progress import progress_bar

if TYPE_CHECKING:
    from netcheck.diagnostics import ModuleReading
    from netcheck.files import LoadedJob, LoadedReadout, Readbacks, When
    from netcheck.report import CodingCase


def coding_command(
    job: JobArgument,
    readback: Annotated[
        Path | None,
        typer.Option(
            "--readback",
            metavar="FILE",
            help="What was read after writing: a readouts file, or a capture of the conversation. "
            "Default: the job's 'after' readouts.",
        ),
    ] = None,
    before: Annotated[
        Path | None,
        typer.Option(
            "--before",
            metavar="FILE",
            help="What was read before, in place of the job's readouts: a readouts file, or a capture.",
        ),
    ] = None,
    format: FormatOption = Format.TEXT,  # noqa: A002
    output: OutputOption = None,
    no_cache: NoCacheOption = False,
) -> int:
    """Show the coding of a job: old and new bytes, how to revert, and whether a later readout holds it.

    netcheck writes nothing to a vehicle. Use your own authorised equipment.
    """
    case = _case(job, readback, before, output, cache=not no_cache)
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


def _case(
    path: Path, readback: Path | None, before: Path | None, output: Path | None, *, cache: bool
) -> CodingCase:
    from netcheck.catalogue import load_job
    from netcheck.coding import compare_modules, compare_readback, match_writes
    from netcheck.files import Readbacks
    from netcheck.plan import make_plan
    from netcheck.report import CodingCase

    job = load_job(path)
    check_target(output, [*job_inputs(job), *(file for file in (readback, before) if file is not None)])
    if before is not None:
        told, _ = _read(before, job, "before")
        job = job.with_readouts(told.blocks, told.modules)
    seen: tuple[ModuleReading, ...] = ()
    if readback is not None:
        later, seen = _read(readback, job, "after")
        source = readback.as_posix()
    else:
        later = Readbacks(
            tuple(r for r in job.readouts if r.when == "after"),
            tuple(r for r in job.module_readouts if r.when == "after"),
        )
        source = "the job's readouts from after the fitting"
    with progress_bar() as progress:
        plan = make_plan(job, cache=cache, progress=progress)
    if not later.blocks and not later.modules and readback is None:
        return CodingCase(job, plan)
    rows = [row for item in plan.items for row in item.coding]
    blocks = _blocks(readout for readout in job.readouts if readout.when == "before")
    compared = compare_readback(
        job.vehicle.model, job.model_year, rows, plan.writes, blocks, _blocks(later.blocks)
    )
    modules = compare_modules(job.module_readouts, later.modules, job.identity.vin)
    found = replace(compared, modules=modules, writes=match_writes(plan.writes, seen))
    return CodingCase(job, plan, found, source)


def _read(path: Path, job: LoadedJob, when: When) -> tuple[Readbacks, tuple[ModuleReading, ...]]:
    """One side, from a readouts file, or from a capture or a text; and the modules of a capture."""
    if path.suffix.lower() == ".toml":
        return _from_file(path, job, when), ()
    from netcheck.diagnostics import is_typed, read_diagnostics, read_typed, readout_side

    model = job.vehicle.model
    readout = (
        read_typed([path], model, when=when) if is_typed(path) else read_diagnostics([path], model, when=when)
    )
    for module in readout.modules:
        if module.findings:
            note(f"{path}: {module.name or 'a module'} has findings; see netcheck readout {path}")
    return readout_side(readout, model, job.model_year, when), readout.modules


def _from_file(path: Path, job: LoadedJob, when: When) -> Readbacks:
    from netcheck.files import Readbacks, ReadoutEntry, load_readback, load_readouts

    if when == "after":
        return load_readback(path, job.vehicle, job.model_year)
    entries = [ReadoutEntry(file=path.name)]
    found = load_readouts(path, entries, job.vehicle, job.model_year)
    return Readbacks(
        tuple(readout for readout in found.blocks if readout.when == when),
        tuple(readout for readout in found.modules if readout.when == when),
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
