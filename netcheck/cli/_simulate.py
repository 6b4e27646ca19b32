"""``netcheck simulate``."""

from __future__ import annotations

import gzip
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from netcheck.cli import _bench as bench_options
from netcheck.cli import _status as status
from netcheck.cli._inputs import vehicle_inputs
from netcheck.cli._options import BusOption, Format, FormatOption, OutputOption, bus_words
from netcheck.cli._output import check_target, json_text, look, note, open_output, open_outputs
from netcheck.cli._signals import ended_gently
from netcheck.errors import InputError, UsageError

if TYPE_CHECKING:
    from netcheck.bench import Bench, Frame
    from netcheck.report.bench import SimulationRun

_TEXT = (".log", ".txt", ".candump")


def simulate_command(  # noqa: PLR0913, PLR0917 – each option of a command is a parameter
    vehicle: Annotated[Path, typer.Argument(metavar="VEHICLE", help="The vehicle file (*.vehicle.toml).")],
    script: Annotated[
        Path, typer.Option("--script", metavar="FILE", help="What the vehicle does (*.script.toml).")
    ],
    year: Annotated[
        int | None, typer.Option("--year", metavar="YEAR", help="The model year; by default the last.")
    ] = None,
    network: Annotated[
        list[str] | None,
        typer.Option("--network", metavar="NAME", help="Only this network. Repeatable; by default all."),
    ] = None,
    interface: bench_options.InterfaceOption = None,
    channel: Annotated[
        str | None, typer.Option("--channel", metavar="NAME", help="The channel of the interface.")
    ] = None,
    bus_option: BusOption = None,
    listen: bench_options.ListenOption = 1.0,
    transmit: bench_options.TransmitOption = False,
    format: FormatOption = Format.TEXT,  # noqa: A002
    output: OutputOption = None,
) -> int:
    """Simulate the traffic of a vehicle while it plays a script. The same script gives the same frames.

    It prints a candump log, or writes one with -o (.log, .txt, or .gz of these). Beside that log it writes a
    marks file that says what the script did. --format is the format of the summary.
    """
    from netcheck.bench import load_bench

    if interface is None and (channel is not None or transmit or bus_option):
        raise UsageError("nothing to send on", remedy="give --interface and --channel, or -o for a log")
    if interface is not None and (channel is None or output is not None):
        missing = "without --channel" if channel is None else "and -o at once"
        raise UsageError(
            f"--interface {missing}", remedy="a simulation goes either onto one bus or into a log"
        )
    staged = load_bench(vehicle, script, year=year, networks=network or ())
    from netcheck.report.bench import simulation_warnings

    for text in simulation_warnings(staged):
        note(text)
    if interface is not None and channel is not None:
        run, code = _onto_bus(staged, interface, channel, bus_option, listen, transmit)
    elif output is not None:
        run, code = _into_log(staged, vehicle, script, output), status.GO
    else:
        with open_output(None) as out:
            for line in _lines(staged, iter(staged.frames())):
                out.write(line)
        return status.GO
    _print(run, format)
    return code


def _print(run: SimulationRun, format: Format) -> None:  # noqa: A002
    from netcheck.report.bench import simulation_json, simulation_text

    how = look(None)
    text = json_text(simulation_json(run)) if format is Format.JSON else simulation_text(run, how.width)
    with open_output(None) as out:
        out.write(text)


def _lines(staged: Bench, frames: Iterator[Frame]) -> Iterator[str]:
    from netcheck.bench import candump_lines
    from netcheck.report.bench import simulation_head

    return candump_lines(frames, simulation_head(staged))


def _into_log(staged: Bench, vehicle: Path, script: Path, output: Path) -> SimulationRun:
    from netcheck.bench import seen_from
    from netcheck.edit import marks_text
    from netcheck.files import load_vehicle, side_file
    from netcheck.report.bench import SimulationRun

    packing = output.suffix.lower() == ".gz"
    if (output.with_suffix("") if packing else output).suffix.lower() not in _TEXT and not _is_device(output):
        remedy = "name it *.log or *.log.gz; netcheck trim converts it to other formats"
        raise InputError(output, "a simulation is written as candump text", where="-o", remedy=remedy)
    side = None if _is_device(output) else side_file(output)
    inputs = [*vehicle_inputs(load_vehicle(vehicle)), script]
    for target in (output, side):
        check_target(target, inputs)
    counted = _Counted(staged.frames())
    with open_outputs(output) as together:
        out = together.open(output, inputs=inputs)
        if packing:  # no name and no time go into the file, so that it is the same every time
            with gzip.GzipFile("", "wb", 6, out.buffer, mtime=0) as packed:
                for line in _lines(staged, counted):
                    packed.write(line.encode("utf-8"))
        else:
            for line in _lines(staged, counted):
                out.write(line)
        marks = seen_from(staged.marks, counted.first_us / 1e6, counted.last_us / 1e6)
        if side is not None:
            together.open(side, inputs=inputs).write(marks_text(marks))
    return SimulationRun(staged, output.as_posix(), side.as_posix() if side else None, len(marks),
                          counted.by_channel)  # fmt: skip


def _onto_bus(
    staged: Bench, interface: str, channel: str, words: list[str] | None, listen: float, transmit: bool
) -> tuple[SimulationRun, int]:
    from netcheck.bench import Target, bench_ids, bench_messages, send
    from netcheck.capture.live import check_interface
    from netcheck.report.bench import SimulationRun, simulation_plan

    check_interface(interface)
    messages = bench_messages(staged, channel)
    (network,) = staged.networks
    rates = network.rates
    options = tuple(bus_words(words or ()).items())
    has_fd = any(message.is_fd for message in network.database.messages)
    target = Target(interface, channel, rates.bitrate, rates.fd_bitrate, options, has_fd)
    ids = bench_ids(staged)
    bench_options.announce([simulation_plan(staged, target, ids)], transmit)
    with ended_gently():
        played = send(messages, {target: ids}, listen=listen)
    run = SimulationRun(staged, target.name, None, 0, {network.channel: played.sent}, played)
    return run, bench_options.exit_status(played)


def _is_device(path: Path) -> bool:
    return path.exists() and not path.is_file() and not path.is_dir()


class _Counted:
    """Frames on their way, counted."""

    def __init__(self, frames: Iterator[Frame]) -> None:
        self._frames = frames
        self.first_us = self.last_us = 0
        self.by_channel: dict[str, int] = {}

    def __iter__(self) -> Iterator[Frame]:
        return self

    def __next__(self) -> Frame:
        frame = next(self._frames)
        if not self.by_channel:
            self.first_us = frame.time_us
        self.last_us = frame.time_us
        self.by_channel[frame.channel] = self.by_channel.get(frame.channel, 0) + 1
        return frame
