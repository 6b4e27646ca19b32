"""What a recording needs before it starts: the network, names for new files, the tap, the cautions."""

from __future__ import annotations

import re
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from netcheck.cli._keys import ENTER, Keys
from netcheck.cli._options import bus_words
from netcheck.cli._screen import Screen
from netcheck.errors import InputError, UsageError

if TYPE_CHECKING:
    from netcheck.capture.live import OpenBus, Tapping
    from netcheck.database import Database
    from netcheck.files import LoadedJob
    from netcheck.work import Visit


@dataclass(frozen=True)
class Setup:
    """Everything that is known before the interface is opened.

    log, marks: files that are not there yet
    cache: whether DBC layouts are taken from the user's cache folder
    """

    job: LoadedJob
    visit: Visit
    databases: Mapping[str, Database]
    log: Path
    marks: Path
    cache: bool = True


def prepare(path: Path, network: str | None, output: Path | None, *, cache: bool = True) -> Setup:
    """Plan the job, choose the network, name the files.

    Raises UsageError when the network is not clear, InputError when a file to be written is there already.
    """
    from netcheck.catalogue import load_job
    from netcheck.files import side_file
    from netcheck.plan import make_plan
    from netcheck.work import visits

    job = load_job(path)
    plan = make_plan(job, cache=cache)
    found, databases = visits(job, plan.items, plan.captures, cache=cache)
    visit = _choose(found, network)
    log = output or Path(f"{job.name}_{visit.network}_{time.strftime('%Y%m%d_%H%M%S')}.log")
    if log.suffix != ".log":
        raise UsageError(f"-o {log} does not end in .log", remedy="a recording is a candump log: name it so")
    marks = side_file(log)
    for target in (log, marks):
        if target.exists():
            raise InputError(
                target,
                "is there already, and a recording never replaces a file",
                remedy="name another with -o",
            )
    if not log.parent.is_dir():
        raise InputError(log, "its folder does not exist", where="-o", remedy="create the folder first")
    return Setup(job, visit, databases, log, marks, cache)


def _choose(found: Mapping[str, Visit], network: str | None) -> Visit:
    if network is not None:
        if network not in found:
            from netcheck.files import one_of

            raise UsageError(
                f"--network: the vehicle has no network '{network}'", remedy=one_of(network, tuple(found))
            )
        return found[network]
    needed = [visit for visit in found.values() if visit.is_needed]
    if len(needed) == 1:
        return needed[0]
    if needed:
        names = ", ".join(f"{visit.network} ({len(visit.acts)} exercises)" for visit in needed)
        raise UsageError(
            "the plan waits for captures of several networks",
            remedy=f"say with --network where the tap is: {names}",
        )
    raise UsageError(
        "the plan waits for no capture", remedy=f"to record anyway, give --network: {', '.join(found)}"
    )


def tapping(
    setup: Setup, interface: str, channel: str, bitrate: int | None, options: Sequence[str]
) -> Tapping:
    """The tap as asked for; the bit rate is the network's unless one is given."""
    from netcheck.capture.live import Tapping

    visit = setup.visit
    return Tapping(interface, channel, bitrate or visit.bitrate, visit.fd_bitrate, bus_words(options))


def channel_name(channel: str) -> str:
    """The channel as a log line can hold it: no blanks, 64 bytes at most."""
    return re.sub(r"\s+", "_", channel.strip()).encode()[:64].decode("utf-8", "ignore") or "can0"


def introduce(setup: Setup, opened: OpenBus, screen: Screen, keys: Keys) -> bool:
    """Say where to clip on, what the interface does, and the cautions; False when the user wants to stop."""
    from netcheck.report.onsite import introduction

    screen.say(
        introduction(
            setup.visit,
            vehicle=setup.job.vehicle.model.name,
            interface=opened.tapping.name,
            listening=opened.listening.value,
            width=screen.width,
            colour=screen.colour,
        )
    )
    if not keys.present:
        return True
    screen.say("\nRead and done? [Enter] starts the recording, [q] leaves.\n")
    while (key := keys.wait(60.0)) != ENTER:
        if key == "q":
            return False
    return True
