"""``netcheck replay``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from netcheck.cli import _bench as bench_options
from netcheck.cli._options import (
    BusOption,
    Format,
    FormatOption,
    IdsOption,
    NotIdsOption,
    OutputOption,
    bus_words,
)
from netcheck.cli._output import check_target, json_text, look, note, open_output
from netcheck.cli._signals import ended_gently
from netcheck.errors import UsageError

if TYPE_CHECKING:
    from netcheck.bench import ReplayChoice, Target


def replay_command(  # noqa: PLR0913, PLR0917 – each option of a command is a parameter
    capture: Annotated[Path, typer.Argument(metavar="CAPTURE", help="The recording to send.")],
    interface: bench_options.InterfaceOption = None,
    channel: Annotated[
        list[str] | None,
        typer.Option(
            "--channel",
            metavar="[FROM=]TO",
            help="The channel of the interface to send on; FROM is a channel of the capture. Repeatable.",
        ),
    ] = None,
    ids: IdsOption = None,
    not_ids: NotIdsOption = None,
    remap: Annotated[
        list[str] | None,
        typer.Option(
            "--remap", metavar="OLD=NEW", help="Send the frames of one id with another id. Repeatable."
        ),
    ] = None,
    speed: Annotated[
        float,
        typer.Option(
            "--speed",
            metavar="N",
            min=0,
            max=1e6,
            help="2 is twice as fast; 0 is as fast as the interface accepts frames.",
        ),
    ] = 1.0,
    loops: Annotated[
        int, typer.Option("--loops", min=0, metavar="N", help="How many times; 0 repeats until Ctrl-C.")
    ] = 1,
    bitrate: bench_options.BitrateOption = None,
    fd_bitrate: bench_options.FdBitrateOption = None,
    bus_option: BusOption = None,
    listen: bench_options.ListenOption = 1.0,
    transmit: bench_options.TransmitOption = False,
    format: FormatOption = Format.TEXT,  # noqa: A002
    output: OutputOption = None,
) -> int:
    """Send a capture through an interface of python-can, each frame at its own time. For the bench only.

    It first says what it would send where. It sends only with --transmit, and not on a bus on which another
    node sends one of the ids. It stops at once on Ctrl-C, at bus-off, or when the interface accepts no more.
    """
    from netcheck.bench import Target, look_through, send
    from netcheck.capture.live import check_interface

    if interface is None or not channel:
        raise UsageError("nothing to send on", remedy="give --interface and --channel")
    check_interface(interface)
    check_target(output, [capture])
    options = tuple(bus_words(bus_option or ()).items())
    replay = look_through(capture, _choice(channel, ids or [], not_ids or [], remap or [], loops))
    has_fd = any(route.has_fd for route in replay.routes)
    ids_of: dict[Target, set[tuple[int, bool]]] = {}
    for route in replay.routes:
        target = Target(interface, route.target, bitrate, fd_bitrate, options, has_fd)
        ids_of.setdefault(target, set()).update(route.ids)
    for text in replay.warnings:
        note(f"{replay.file}: {text}")
    from netcheck.report.bench import replay_json, replay_plan, replay_text

    bench_options.announce(replay_plan(replay, interface, speed), transmit)
    with ended_gently():
        played = send(replay.messages(), ids_of, listen=listen, speed=speed)
    if format is Format.JSON:
        result = json_text(replay_json(replay, played))
    else:
        result = replay_text(replay, played, look(output).width)
    with open_output(output) as out:
        out.write(result)
    return bench_options.exit_status(played)


def _choice(
    channels: list[str], ids: list[str], not_ids: list[str], remap: list[str], loops: int
) -> ReplayChoice:
    from netcheck.bench import ReplayChoice
    from netcheck.edit import id_span

    pairs: dict[str, str] = {}
    target = ""
    for word in channels:
        source, sign, name = word.rpartition("=")
        if not name or (sign and not source):
            raise UsageError(
                f"--channel {word}: must be TO or FROM=TO", remedy="such as vcan0, or can0=vcan0"
            )
        if sign and source in pairs:
            raise UsageError(
                f"--channel: {source} is sent to {pairs[source]} and to {name}", remedy="keep one of them"
            )
        if sign:
            pairs[source] = name
        else:
            target = name
    if target and len(channels) > 1:
        raise UsageError(
            "--channel: several targets, and one of them without FROM", remedy="write FROM=TO for each"
        )
    return ReplayChoice(
        target=target,
        channels=pairs,
        ids=tuple(id_span(text) for text in ids),
        not_ids=tuple(id_span(text) for text in not_ids),
        remap=_remap(remap),
        rounds=loops,
    )


def _remap(words: list[str]) -> dict[tuple[int, bool], tuple[int, bool]]:
    from netcheck.edit import id_span

    pairs: dict[tuple[int, bool], tuple[int, bool]] = {}
    for word in words:
        old, new = (id_span(text) for text in word.split("=")) if word.count("=") == 1 else (None, None)
        if old is None or new is None or old.low != old.high or new.low != new.high:
            raise UsageError(f"--remap {word}: must be OLD=NEW", remedy="one id each, such as 0x123=0x321")
        key = old.low, old.is_extended
        if key in pairs:
            raise UsageError(f"--remap: {old} is remapped twice", remedy="keep one of them")
        pairs[key] = new.low, new.is_extended
    return pairs
