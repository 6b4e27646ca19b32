"""What a recording needs before it starts: the network, names for new files, the tap, the cautions."""

from __future__ import annotations

import re
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

from netcheck.cli._inputs import job_inputs
from netcheck.cli._keys import ENTER, Keys
from netcheck.cli._options import bus_words
from netcheck.cli._output import check_new, check_target
from netcheck.cli._screen import Screen
from netcheck.errors import UsageError
from netcheck.records import dataclass
from netcheck.words import counted

if TYPE_CHECKING:
    from netcheck.capture.live import OpenBus, Tapping
    from netcheck.database import Database
    from netcheck.files import LoadedJob
    from netcheck.work import RecordingSession

_KEY_LINES: Final = 3  # under a page: a blank line, the keys, the cursor


@dataclass(frozen=True)
class Setup:
    """Everything that is known before the interface is opened.

    log, marks: files to write; they are not there yet unless ``force``
    cache: whether DBC layouts are taken from the user's cache folder
    """

    job: LoadedJob
    session: RecordingSession
    databases: Mapping[str, Database]
    log: Path
    marks: Path
    force: bool = False
    cache: bool = True


def prepare(
    path: Path, network: str | None, output: Path | None, *, force: bool = False, cache: bool = True
) -> Setup:
    """Plan the job, choose the network, name the files.

    Raises UsageError when the network is not clear, InputError when a file to be written is one of the job's,
    or exists already, but for ``force``.
    """
    from netcheck.catalogue import load_job
    from netcheck.files import side_file
    from netcheck.plan import make_plan
    from netcheck.work import recording_sessions

    job = load_job(path)
    plan = make_plan(job, cache=cache)
    found, databases = recording_sessions(job, plan.items, plan.captures, cache=cache)
    session = _choose(found, network)
    log = output or Path(f"{job.name}_{session.network}_{time.strftime('%Y%m%d_%H%M%S')}.log")
    if log.suffix != ".log":
        raise UsageError(f"-o {log} does not end in .log", remedy="a recording is a candump log: name it so")
    marks = side_file(log)
    for target in (log, marks):
        check_target(target, job_inputs(job))
        check_new(target, force=force)
    return Setup(job, session, databases, log, marks, force, cache)


def _choose(found: Mapping[str, RecordingSession], network: str | None) -> RecordingSession:
    if network is not None:
        if network not in found:
            from netcheck.files import one_of

            raise UsageError(
                f"--network: the vehicle has no network '{network}'", remedy=one_of(network, tuple(found))
            )
        return found[network]
    needed = [session for session in found.values() if session.is_needed]
    if len(needed) == 1:
        return needed[0]
    if needed:
        names = ", ".join(
            f"{session.network} ({counted(len(session.steps), 'exercise')})" for session in needed
        )
        raise UsageError(
            "the plan needs captures of several networks",
            remedy=f"say with --network where the tap is: {names}",
        )
    raise UsageError(
        "the plan needs no further capture", remedy=f"to record anyway, give --network: {', '.join(found)}"
    )


def tapping(
    setup: Setup, interface: str, channel: str, bitrate: int | None, options: Sequence[str]
) -> Tapping:
    """The tap as asked for; the bit rate is the network's unless one is given."""
    from netcheck.capture.live import Tapping

    session = setup.session
    return Tapping(interface, channel, bitrate or session.bitrate, session.fd_bitrate, bus_words(options))


def channel_name(channel: str) -> str:
    """The channel as a log line can hold it: no blanks, 64 bytes at most."""
    return re.sub(r"\s+", "_", channel.strip()).encode()[:64].decode("utf-8", "ignore") or "can0"


def introduce(setup: Setup, opened: OpenBus, screen: Screen, keys: Keys) -> bool:
    """Say where to clip on, what the interface does, and the cautions; False when the user wants to stop."""
    from netcheck.report.recording import introduction

    parts = introduction(
        setup.session,
        vehicle=setup.job.vehicle.model.name,
        interface=opened.tapping.name,
        listening=opened.listening,
        width=screen.width,
        colour=screen.colour,
    )
    return are_read(parts, screen, keys)


def are_read(parts: Sequence[str], screen: Screen, keys: Keys) -> bool:
    """Texts page by page, as a person goes on; False when that person wants to stop."""
    from netcheck.report.recording import PAGE_KEYS, START_KEYS, pages

    if not keys.present:
        screen.say("".join(parts))
        return True
    shown = pages(parts, screen.height - _KEY_LINES)
    for number, page in enumerate(shown, 1):
        screen.say(f"{page}\n{START_KEYS if number == len(shown) else PAGE_KEYS}\n")
        while (key := keys.wait(60.0)) != ENTER:
            if key == "q":
                return False
    return True
