"""``netcheck readout``."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from netcheck.cli import _bench as bench_options
from netcheck.cli import _status as status
from netcheck.cli._inputs import vehicle_inputs
from netcheck.cli._options import BusOption, CsvOption, ForceOption, Format, FormatOption
from netcheck.cli._output import check_new, check_target, json_text, look, note, open_output
from netcheck.errors import UsageError

if TYPE_CHECKING:
    from netcheck.diagnostics import Readout
    from netcheck.files import Vehicle


class ReadoutTime(StrEnum):
    """Of the fitting."""

    BEFORE = "before"
    AFTER = "after"


def readout_command(  # noqa: PLR0913, PLR0917 – each option of a command is a parameter
    captures: Annotated[
        list[Path] | None,
        typer.Argument(
            metavar="CAPTURE", help="Captures of a diagnostic conversation, or texts with hex bytes."
        ),
    ] = None,
    vehicle: Annotated[
        Path | None,
        typer.Option("--vehicle", metavar="FILE", help="Vehicle file: names the modules and their fields."),
    ] = None,
    when: Annotated[
        ReadoutTime,
        typer.Option(
            "--when", help="Which side of the fitting it is. A write that was accepted tells it by itself."
        ),
    ] = ReadoutTime.BEFORE,
    csv: CsvOption = "",
    interface: bench_options.InterfaceOption = None,
    channel: Annotated[
        str | None, typer.Option("--channel", metavar="NAME", help="The channel of the interface.")
    ] = None,
    module: Annotated[
        list[str] | None,
        typer.Option("--module", metavar="NAME", help="Ask this module only. Repeatable; default all."),
    ] = None,
    bitrate: bench_options.BitrateOption = None,
    bus_option: BusOption = None,
    listen: Annotated[
        float,
        typer.Option(
            "--listen", metavar="SECONDS", min=1, max=60, help="Listen first whether another tester talks."
        ),
    ] = 3.0,
    agreed: Annotated[
        bool,
        typer.Option("--agreed", help="It stands still and the owner agrees: do not ask at the terminal."),
    ] = False,
    transmit: bench_options.TransmitOption = False,
    format: FormatOption = Format.TEXT,  # noqa: A002
    force: ForceOption = False,
    output: Annotated[
        Path | None,
        typer.Option(
            "-o",
            "--output",
            metavar="FILE",
            help="Write a readouts file (*.readouts.toml), which a job includes.",
        ),
    ] = None,
) -> int:
    """Read what the modules said of themselves: identification, coding blocks, fault codes.

    From captures of a conversation that your own equipment had: netcheck sends nothing. With --interface and
    --transmit it asks the modules itself: reading services only (0x22, 0x19, 0x3E), in the default session.
    """
    from netcheck.cli._readout_live import LiveWish, ask_modules
    from netcheck.files import load_vehicle
    from netcheck.report.readout import ReadoutCase, readout_json, readout_text, readouts_file

    captures = captures or []
    if bool(captures) == (interface is not None):
        raise UsageError("nothing to read" if not captures else "captures and --interface at once",
                         remedy="give captures, or --interface and --channel")  # fmt: skip
    loaded = load_vehicle(vehicle) if vehicle is not None else None
    files = [*captures, *(vehicle_inputs(loaded) if loaded is not None else [])]
    check_target(output, files)
    if output is not None:
        check_new(output, force=force)
    model = loaded.model if loaded is not None else None
    if interface is not None:
        wish = LiveWish(interface, channel, tuple(module or ()), bitrate, tuple(bus_option or ()), listen)
        readout = ask_modules(wish, loaded, when.value, transmit=transmit, agreed=agreed)
    else:
        readout = _read(captures, model, when, csv)
    case = ReadoutCase(readout, model)
    for warning in case.readout.warnings:
        note(warning)
    if output is not None:
        text = readouts_file(case)
        if not text:
            note("nothing was read that a readouts file holds, so none was written")
            return status.UNPROVEN
        with open_output(output, inputs=files) as out:
            out.write(text)
    how = look(None)
    shown = (
        json_text(readout_json(case))
        if format is Format.JSON
        else readout_text(case, width=how.width, colour=how.colour)
    )
    with open_output(None) as out:
        out.write(shown)
    return (
        status.GO
        if any(module.answered or not module.asked for module in case.readout.modules)
        else (status.UNPROVEN)
    )


def _read(paths: Sequence[Path], vehicle: Vehicle | None, when: ReadoutTime, csv: str) -> Readout:
    """Captures, or texts; not both at once."""
    from netcheck.cli._progress import progress_bar
    from netcheck.diagnostics import is_typed, read_diagnostics, read_typed

    typed = [path for path in paths if is_typed(path)]
    if typed and len(typed) < len(paths):
        raise UsageError("captures and texts at once", remedy="read them one after the other")
    if typed:
        return read_typed(paths, vehicle, when=when.value)
    with progress_bar() as progress:
        return read_diagnostics(paths, vehicle, when=when.value, csv=csv, progress=progress)
