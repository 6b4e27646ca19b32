"""``netcheck record``."""

from __future__ import annotations

import time
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from netcheck.cli import _status as status
from netcheck.cli._keys import Keys, open_keys
from netcheck.cli._options import BusOption, ForceOption, Format, FormatOption, NoCacheOption
from netcheck.cli._output import json_text, look, note, open_output
from netcheck.cli._signals import ended_gently
from netcheck.errors import NetcheckError, UsageError
from netcheck.records import dataclass
from netcheck.words import unique

if TYPE_CHECKING:
    from netcheck.capture.live import LiveCapture, OpenBus
    from netcheck.cli._record_run import LiveRecording
    from netcheck.cli._record_setup import Setup
    from netcheck.cli._screen import Screen
    from netcheck.files import MarksWriter
    from netcheck.plan import Plan
    from netcheck.report.recording import RecordCase, RecordStop


def record_command(  # noqa: PLR0913 – each option of a command is a parameter
    job: Annotated[
        Path | None, typer.Argument(metavar="[JOB]", help="The job file (*.job.toml). Not with --find.")
    ] = None,
    *,
    interface: Annotated[
        str,
        typer.Option("--interface", metavar="I", help="The interface, as python-can names it: socketcan, …"),
    ],
    channel: Annotated[
        str, typer.Option("--channel", metavar="C", help="Its channel: can0, a serial port, …")
    ],
    network: Annotated[
        str | None,
        typer.Option(
            "--network",
            metavar="NAME",
            help="The network the tap is on, where the plan needs captures of several.",
        ),
    ] = None,
    bitrate: Annotated[
        int | None,
        typer.Option(
            "--bitrate", metavar="N", min=1, help="Bit/s; by default that of the network in the vehicle file."
        ),
    ] = None,
    output: Annotated[
        Path | None,
        typer.Option(
            "-o",
            "--output",
            metavar="LOG",
            help="The new log; by default JOB_NETWORK_TIME.log, here.",
        ),
    ] = None,
    option: BusOption = None,
    timeout: Annotated[
        float | None,
        typer.Option(
            "--timeout",
            metavar="S",
            min=1,
            help="Most seconds for one exercise; by default no limit at a terminal, 30 without one.",
        ),
    ] = None,
    wait: Annotated[
        float, typer.Option("--wait", metavar="S", min=1, help="How long to wait for the first frame.")
    ] = 20,
    still: Annotated[
        float,
        typer.Option(
            "--still",
            metavar="S",
            min=0,
            help="Seconds before the first exercise in which nobody touches anything. Each role that "
            "answered is watched for eight times as long while nobody asks for it.",
        ),
    ] = 5,
    seconds: Annotated[
        float | None,
        typer.Option("--seconds", metavar="S", min=1, help="How long to record without exercises."),
    ] = None,
    no_beep: Annotated[
        bool, typer.Option("--no-beep", help="No beep when an exercise has answered.")
    ] = False,
    find: Annotated[
        list[str] | None,
        typer.Option(
            "--find",
            metavar="ROLE",
            help="Look for a role that no DBC describes: work it when you are asked to. Repeatable.",
        ),
    ] = None,
    draft: Annotated[
        Path | None,
        typer.Option(
            "--draft",
            metavar="F.dbc",
            help="With --find: a DBC to which what stands clear is added, and F.vehicle.toml beside it.",
        ),
    ] = None,
    press: Annotated[
        float, typer.Option("--press", metavar="S", min=0.3, max=10, help="With --find: the shortest press.")
    ] = 1,
    seed: Annotated[
        int | None,
        typer.Option("--seed", metavar="N", help="With --find: the same number asks in the same rhythm."),
    ] = None,
    force: ForceOption = False,
    no_cache: NoCacheOption = False,
    format: FormatOption = Format.TEXT,  # noqa: A002
) -> int:
    """Record what the plan still lacks, exercise by exercise, then plan again with the recording.

    It only listens and sends no frame. It writes a candump log, and a marks file beside it. While it runs,
    text goes to standard error; the result goes to standard output. With --find no job is needed: it asks for
    presses in a rhythm that nothing else has, and ranks after each which bits follow.
    """
    if find:
        from netcheck.cli._record_find import FindOptions, record_find

        if job is not None or network is not None:
            raise UsageError("--find needs no job file and no --network", remedy="leave them out")
        tap = (interface, channel, bitrate, option or [])
        chosen = FindOptions(unique(find), output, draft, press, still, wait, seed, force, not no_beep)
        return record_find(chosen, tap, format)
    if job is None:
        raise UsageError("no job file given", remedy="name one, or say with --find what is looked for")
    if draft is not None:
        raise UsageError("--draft is for --find", remedy="say with --find what is looked for")
    from netcheck.capture.live import open_bus
    from netcheck.cli._record_setup import prepare, tapping
    from netcheck.cli._screen import Screen

    setup = prepare(job, network, output, force=force, cache=not no_cache)
    opened = open_bus(tapping(setup, interface, channel, bitrate, option or []))
    with ended_gently(), open_keys() as keys:
        pace = _Pace(wait, still, seconds, timeout if timeout or keys.present else 30.0)
        return _record(setup, opened, pace, (keys, Screen(beeps=not no_beep)), format)


@dataclass(frozen=True)
class _Pace:
    """Times in seconds; None: what suits the job, or no limit."""

    wait: float
    still: float
    record: float | None
    timeout: float | None


def _record(setup: Setup, opened: OpenBus, pace: _Pace, terminal: tuple[Keys, Screen], form: Format) -> int:
    from netcheck.capture.live import LiveCapture, LogFile
    from netcheck.cli._record_setup import channel_name, introduce
    from netcheck.files import MarksWriter
    from netcheck.report.recording import RecordStop, StopKind

    keys, screen = terminal
    with LiveCapture(opened, channel_name(opened.tapping.channel)) as live:
        recording = _recording(setup, live, pace)
        if not introduce(setup, opened, screen, keys):
            note("nothing was recorded")
            return status.UNPROVEN
        head = [f"Marks of {setup.log.name}, written by netcheck record."]
        marks = MarksWriter(setup.marks, head, replace=setup.force)
        try:
            live.keep(LogFile(setup.log, replace=setup.force))
            try:
                stop = recording.run(keys, screen, time.monotonic, marks)
            except KeyboardInterrupt:
                stop = RecordStop(StopKind.INTERRUPTED)
            screen.clear()
            live.stop()
            recording.finish(marks)
        finally:
            if not recording.has_marks and (live.frames or not setup.force):
                marks.discard()
    if live.fault is not None and stop.kind is not StopKind.INTERRUPTED:
        stop = RecordStop(StopKind.FAULT, said=live.fault.error.what)
    return _conclude(setup, recording, stop, (screen, keys, marks), form)


def _recording(setup: Setup, live: LiveCapture, pace: _Pace) -> LiveRecording:
    from netcheck.cli._record_run import Limits, LiveRecording, PairIdentifier
    from netcheck.evidence import Guide
    from netcheck.roles import diagnostic_addresses

    session = setup.session
    timeout = None if pace.timeout is None else round(pace.timeout * 1e9)
    guide = Guide(session.steps, session.running, timeout_ns=timeout, quiet_ns=round(pace.still * 1e9))
    limits = Limits(pace.wait, pace.record or session.seconds)
    identifier = PairIdentifier(
        setup.databases, diagnostic_addresses(setup.job.vehicle.model, setup.job.model_year)
    )
    return LiveRecording(live, guide, session, identifier, limits)


def _conclude(
    setup: Setup,
    recording: LiveRecording,
    stop: RecordStop,
    tools: tuple[Screen, Keys, MarksWriter],
    form: Format,
) -> int:
    """Confirm, plan, print; every cause of the end has its own status."""
    from netcheck.cli._record_finish import ask_back, case_of, plan_with
    from netcheck.report.recording import StopKind, stop_text

    screen, keys, marks = tools
    fault: NetcheckError | None = recording.live.fault.error if recording.live.fault else None
    plan: Plan | None = None
    if recording.has_messages and recording.other_network is None:
        if stop.kind in {StopKind.DONE, StopKind.QUIT}:
            ask_back(recording, screen, keys)
            if recording.has_marks:
                recording.save(marks)
        try:
            plan = plan_with(setup, recording)
        except NetcheckError as error:
            fault = fault or error
    is_told = bool(recording.live.frames)
    if is_told:
        screen.show([""])
        with open_output(None) as out:
            out.write(_result(case_of(setup, recording, stop, plan), form))
    if stop.kind is StopKind.INTERRUPTED:
        return status.INTERRUPTED
    if fault is not None:
        raise fault
    if plan is None:
        if not is_told or form is Format.JSON:
            note(stop_text(stop) or "no message was recorded")
        return status.UNPROVEN
    return status.of_verdict(plan.verdict)


def _result(case: RecordCase, form: Format) -> str:
    from netcheck.report.recording import record_json, record_text

    if form is Format.JSON:
        return json_text(record_json(case))
    how = look(None)
    return record_text(case, width=how.width, colour=how.colour)
