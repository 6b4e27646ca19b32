"""``netcheck record``."""

from __future__ import annotations

import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from netcheck.cli import _status as status
from netcheck.cli._keys import Keys, open_keys
from netcheck.cli._options import BusOption, Format, FormatOption, JobArgument, NoCacheOption
from netcheck.cli._output import json_text, look, note, open_output
from netcheck.cli._signals import ended_gently
from netcheck.errors import NetcheckError

if TYPE_CHECKING:
    from netcheck.capture.live import LiveCapture, OpenBus
    from netcheck.cli._record_run import Session, Stop
    from netcheck.cli._record_setup import Setup
    from netcheck.cli._screen import Screen
    from netcheck.files import MarksWriter
    from netcheck.plan import Plan
    from netcheck.report.onsite import RecordCase


def record_command(  # noqa: PLR0913, PLR0917 – each option of a command is a parameter
    job: JobArgument,
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
            "--network", metavar="NAME", help="The network the tap is on, where the plan waits for several."
        ),
    ] = None,
    bitrate: Annotated[
        int | None,
        typer.Option(
            "--bitrate", metavar="N", min=1, help="Bit/s; by default the network's, from the vehicle file."
        ),
    ] = None,
    output: Annotated[
        Path | None,
        typer.Option(
            "-o", "--output", metavar="LOG", help="The new log; by default JOB_NETWORK_TIME.log, here."
        ),
    ] = None,
    option: BusOption = None,
    timeout: Annotated[
        float | None,
        typer.Option(
            "--timeout",
            metavar="S",
            min=1,
            help="Seconds for an exercise; by default no limit at a terminal, 30 without one.",
        ),
    ] = None,
    wait: Annotated[
        float, typer.Option("--wait", metavar="S", min=1, help="Seconds for the first frame.")
    ] = 20,
    still: Annotated[
        float,
        typer.Option(
            "--still",
            metavar="S",
            min=0,
            help="Seconds of hands off before the first exercise; a role that answers is looked at for eight "
            "times as long while nobody asks for it.",
        ),
    ] = 5,
    seconds: Annotated[
        float | None,
        typer.Option("--seconds", metavar="S", min=1, help="How long, where there is nothing to exercise."),
    ] = None,
    no_cache: NoCacheOption = False,
    format: FormatOption = Format.TEXT,  # noqa: A002
) -> int:
    """Record what the plan still lacks, exercise by exercise, and plan again with the recording.

    It only listens and sends no frame. It writes a candump log and a marks file beside it, and replaces no
    file. Text for people goes to standard error while it runs, the result to standard output.
    """
    from netcheck.capture.live import open_bus
    from netcheck.cli._record_setup import prepare, tapping

    setup = prepare(job, network, output, cache=not no_cache)
    opened = open_bus(tapping(setup, interface, channel, bitrate, option or []))
    with ended_gently(), open_keys() as keys:
        pace = _Pace(wait, still, seconds, timeout if timeout or keys.present else 30.0)
        return _record(setup, opened, pace, keys, format)


@dataclass(frozen=True)
class _Pace:
    """Times in seconds; None: what suits the job, or no limit."""

    wait: float
    still: float
    record: float | None
    timeout: float | None


def _record(setup: Setup, opened: OpenBus, pace: _Pace, keys: Keys, form: Format) -> int:
    from netcheck.capture.live import LiveCapture, LogFile
    from netcheck.cli._record_run import Stop
    from netcheck.cli._record_setup import channel_name, introduce
    from netcheck.cli._screen import Screen
    from netcheck.files import MarksWriter

    screen = Screen()
    with LiveCapture(opened, channel_name(opened.tapping.channel)) as live:
        session = _session(setup, live, pace)
        if not introduce(setup, opened, screen, keys):
            note("nothing was recorded")
            return status.UNPROVEN
        marks = MarksWriter(setup.marks, [f"Marks of {setup.log.name}, written by netcheck record."])
        try:
            live.keep(LogFile(setup.log))
            try:
                stop = session.run(keys, screen, time.monotonic, marks)
            except KeyboardInterrupt:
                stop, session.stop_text = Stop.INTERRUPTED, "interrupted"
            screen.clear()
            live.stop()
            session.finish(marks)
        finally:
            if not session.has_marks:
                marks.discard()
    if live.fault is not None and stop is not Stop.INTERRUPTED:
        stop = Stop.FAULT
    return _conclude(setup, session, stop, (screen, keys, marks), form)


def _session(setup: Setup, live: LiveCapture, pace: _Pace) -> Session:
    from netcheck.cli._record_run import Limits, Session
    from netcheck.evidence import Guide

    visit = setup.visit
    timeout = None if pace.timeout is None else round(pace.timeout * 1e9)
    guide = Guide(visit.acts, visit.running, timeout_ns=timeout, quiet_ns=round(pace.still * 1e9))
    return Session(live, guide, visit, setup.databases, Limits(pace.wait, pace.record or visit.seconds))


def _conclude(
    setup: Setup, session: Session, stop: Stop, tools: tuple[Screen, Keys, MarksWriter], form: Format
) -> int:
    """Confirm, plan, print; every cause of the end has its own status."""
    from netcheck.cli._record_finish import ask_back, case_of, plan_with
    from netcheck.cli._record_run import Stop

    screen, keys, marks = tools
    fault: NetcheckError | None = session.live.fault.error if session.live.fault else None
    plan: Plan | None = None
    if session.has_messages and session.other_network is None:
        if stop in {Stop.DONE, Stop.QUIT}:
            ask_back(session, screen, keys)
            if session.has_marks:
                session.save(marks)
        try:
            plan = plan_with(setup, session)
        except NetcheckError as error:
            fault = fault or error
    is_told = bool(session.live.frames)
    if is_told:
        screen.show([""])
        with open_output(None) as out:
            out.write(_result(case_of(setup, session, plan), form))
    if stop is Stop.INTERRUPTED:
        return status.INTERRUPTED
    if fault is not None:
        raise fault
    if plan is None:
        if not is_told or form is Format.JSON:
            note(session.stop_text or "no message was recorded")
        return status.UNPROVEN
    return status.of_verdict(plan.verdict)


def _result(case: RecordCase, form: Format) -> str:
    from netcheck.report.onsite import record_json, record_text

    if form is Format.JSON:
        return json_text(record_json(case))
    how = look(None)
    return record_text(case, width=how.width, colour=how.colour)
