"""``netcheck tap``."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Annotated, Final

import typer

from netcheck.cli import _status as status
from netcheck.cli._inputs import job_inputs
from netcheck.cli._options import (
    BusOption,
    Format,
    FormatOption,
    JobArgument,
    NoCacheOption,
    OutputOption,
    bus_words,
)
from netcheck.cli._output import check_target, json_text, look, note, open_output
from netcheck.cli._progress import countdown
from netcheck.errors import InputError, UsageError

if TYPE_CHECKING:
    from netcheck.files import LoadedItem, LoadedJob
    from netcheck.tap import Recorded, TapCheck

_SILENT: Final = "no frames: the recording is silent"
_WAKE: Final = (
    "switch the ignition on, wake the network (open a door) and record again; if it stays silent, check that "
    "high and low are the right way round, then try the next pair"
)
_CODES: Final = {"right": status.GO, "wrong": status.NO_GO, "unknown": status.UNPROVEN}


def tap_command(  # noqa: PLR0913, PLR0917 – each option of a command is a parameter
    job: JobArgument,
    item: Annotated[
        str | None,
        typer.Option(
            "--item",
            metavar="R",
            help="The part to fit, by its retrofit's name. Not needed if the job has only one.",
        ),
    ] = None,
    capture: Annotated[
        Path | None, typer.Option("--capture", metavar="FILE", help="A capture of the pair.")
    ] = None,
    interface: Annotated[
        str | None,
        typer.Option(
            "--interface", metavar="I", help="Listen now, on this interface (name as in python-can)."
        ),
    ] = None,
    channel: Annotated[
        str | None,
        typer.Option("--channel", metavar="C", help="Channel of the interface or of the capture."),
    ] = None,
    bitrate: Annotated[
        int | None,
        typer.Option(
            "--bitrate",
            metavar="N",
            min=1,
            help="Bit/s that the recorder is or was set to. Default when listening: the network's.",
        ),
    ] = None,
    option: BusOption = None,
    seconds: Annotated[float, typer.Option("--seconds", metavar="S", min=1, help="How long to listen.")] = 15,
    measured: Annotated[
        list[str] | None,
        typer.Option(
            "--measured",
            metavar="KEY=VALUE…",
            help="Readings from the pair, such as 'termination=60.4 high-idle=2.51 low-idle=2.49 "
            "high-shorted=no stub=0.8'. Default: those of the job.",
        ),
    ] = None,
    no_cache: NoCacheOption = False,
    format: FormatOption = Format.TEXT,  # noqa: A002
    output: OutputOption = None,
) -> int:
    """Say whether a pair of wires is the right one for a part, and whether it is healthy.

    It only listens. With neither a capture nor an interface it says where to connect and what to measure.
    Exit status: 0 all right, 1 something is wrong, 3 cannot tell, 2 bad usage or unreadable input.
    """
    from netcheck.catalogue import load_job
    from netcheck.cli._survey import is_silent
    from netcheck.tap import check_tap, choose_item, parse_measured

    if capture is not None and interface is not None:
        raise UsageError("--capture and --interface together", remedy="give one of them")
    loaded = load_job(job)
    chosen = choose_item(loaded, item)
    readings = parse_measured(measured) if measured else None
    check_target(output, [*job_inputs(loaded), *([capture] if capture else [])])
    with _recorded(
        capture, (interface, channel, bitrate), option or [], seconds, (loaded, chosen)
    ) as recorded:
        try:
            check = check_tap(loaded, chosen, recorded, readings, cache=not no_cache)
        except InputError as error:
            if capture is None or not is_silent(capture):
                raise
            raise InputError(capture, _SILENT, remedy=_WAKE) from error
    with open_output(output) as out:
        out.write(_rendered(check, format, output, _then(job, interface, channel, option or [])))
    return _CODES[check.verdict.value]


def _then(job: Path, interface: str | None, channel: str | None, options: Sequence[str]) -> str:
    """What to do on a pair that is right."""
    from netcheck.words import command_line

    if interface is None or channel is None:
        return (
            f"Name the capture in {job.name} if it is not there yet. Then run {command_line('plan', job)}: "
            "it says what still has to be recorded."
        )
    words = [word for option in options for word in ("--option", option)]
    again = command_line("record", job, "--interface", interface, "--channel", channel, *words)
    return f"Record what the plan still lacks: {again}"


def _rendered(check: TapCheck, form: Format, output: Path | None, then: str) -> str:
    from netcheck.report.onsite import tap_json, tap_text

    if form is Format.JSON:
        return json_text(tap_json(check))
    how = look(output)
    return tap_text(check, then=then, width=how.width, colour=how.colour, height=how.height)


@contextmanager
def _recorded(
    capture: Path | None,
    wires: tuple[str | None, str | None, int | None],
    options: Sequence[str],
    seconds: float,
    wanted: tuple[LoadedJob, LoadedItem],
) -> Iterator[Recorded | None]:
    """The recording as given, or one made now and gone afterwards. wires: interface, channel, bit rate."""
    from netcheck.tap import Recorded

    interface, channel, bitrate = wires
    if capture is not None:
        yield Recorded(capture, str(capture), channel, bitrate)
        return
    if interface is None:
        if channel is not None or bitrate is not None or options:
            raise UsageError("nothing to listen to", remedy="give --interface as well, or --capture")
        yield None
        return
    if channel is None:
        raise UsageError("--interface without --channel", remedy="such as --channel can0")
    with TemporaryDirectory(prefix="netcheck-") as folder:
        yield _listen_now((interface, channel, bitrate), options, seconds, wanted, Path(folder))


def _listen_now(
    wires: tuple[str, str, int | None],
    options: Sequence[str],
    seconds: float,
    wanted: tuple[LoadedJob, LoadedItem],
    folder: Path,
) -> Recorded:
    from netcheck.capture.live import Tapping, open_bus
    from netcheck.cli._record_setup import channel_name
    from netcheck.report.recording import listening_text
    from netcheck.tap import Recorded, listen
    from netcheck.words import bit_rate

    interface, channel, bitrate = wires
    job, item = wanted
    model = job.vehicle.model.network[item.network] if item.network is not None else None
    rate = bitrate or (model.bitrate if model else None)
    tapping = Tapping(interface, channel, rate, model.fd_bitrate if model else None, bus_words(options))
    opened = open_bus(tapping)
    name = channel_name(channel)
    at = f" at {bit_rate(rate)}" if rate else ""
    note(
        f"listening on {tapping.name}{at} for {seconds:g} s (Ctrl-C goes on with what was heard); "
        f"{listening_text(opened.listening)}"
    )
    with countdown("left") as tell:
        log = listen(opened, folder / "tap.log", channel=name, seconds=seconds, wait=seconds, tell=tell)
    return Recorded(log, tapping.name, name, opened.bitrate, opened.has_wire, is_live=True)
