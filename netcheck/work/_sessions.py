"""Recording sessions at the vehicle: what is to be exercised on a network, and the job with the recording."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final

from netcheck.database import Database
from netcheck.evidence import ExerciseStep
from netcheck.files import LoadedCapture, LoadedJob, LoadedMark, Mark
from netcheck.records import dataclass
from netcheck.roles import RolesByName, Watch, load_networks, resolve_roles, watches
from netcheck.verdict import ChannelUse, ItemResult
from netcheck.words import unique
from netcheck.work._actions import CaptureTask
from netcheck.work._minding import WHILE_MOVING
from netcheck.work._todo import captures_to_take

# Common practice, from the trade.
CAUTIONS: Final = (
    "Only listen: the logger sends nothing. Whoever drives does nothing else.",
    "On the road a second person works the computer; the driver never looks at it. Local rules come first.",
    "Route the cable clear of pedals, steering and airbags, with a short stub, and fix it.",
)


@dataclass(frozen=True)
class RecordingSession:
    """What to record on one network.

    tap:     where the pair is, as the vehicle file says; "" if it does not
    steps:   the exercises, in the order of the checklist
    running: what only has to be there
    seconds: how long to record where there is nothing to exercise
    """

    network: str
    bitrate: int
    fd_bitrate: int | None
    tap: str
    steps: tuple[ExerciseStep, ...]
    running: tuple[Watch, ...]
    cautions: tuple[str, ...]
    seconds: int

    @property
    def is_needed(self) -> bool:
        """Whether the plan waits for a capture of this network."""
        return bool(self.steps or self.running)


def recording_sessions(
    job: LoadedJob, items: tuple[ItemResult, ...], captures: tuple[ChannelUse, ...], *, cache: bool = True
) -> tuple[Mapping[str, RecordingSession], Mapping[str, Database]]:
    """The session for every network of the vehicle, in the vehicle file's order, and the networks' databases.

    A network that the plan does not wait for has a session without exercises.
    """
    databases = load_networks(job.vehicle, cache=cache)
    roles = resolve_roles(job, databases)
    tasks = {task.network: task for task in captures_to_take(job, items, captures)}
    own = (text for item in items for text in item.cautions)
    cautions = unique((*CAUTIONS, *own, *_dangers(job.applied())))
    marked = {need.role for item in items for need in item.needs if need.asks == "answers"}
    found = {
        name: replace(_session(job, name, tasks.get(name), roles, marked), cautions=cautions)
        for name in databases
    }
    return found, databases


def _dangers(job: LoadedJob) -> Iterator[str]:
    """What the retrofit files warn of before the fitting, and where the vehicle runs or moves."""
    for loaded in job.items:
        for entry in loaded.retrofit.caution:
            if entry.phase == "before" or entry.danger in WHILE_MOVING:
                yield entry.text


def _session(
    job: LoadedJob, name: str, task: CaptureTask | None, roles: RolesByName, marked: Collection[str]
) -> RecordingSession:
    network = job.vehicle.model.network[name]
    showings = task.showings if task is not None else ()
    steps = tuple(
        ExerciseStep(
            showing.role,
            showing.do,
            showing.state,
            showing.mark,
            showing.optional,
            _watch(roles, showing.role, name),
            is_marked=showing.role in marked,
        )
        for showing in showings
    )
    running = tuple(
        watch for role in (task.running if task is not None else ()) if (watch := _watch(roles, role, name))
    )
    seconds = task.seconds if task is not None else 60
    return RecordingSession(
        name, network.bitrate, network.fd_bitrate, network.tap or "", steps, running, (), seconds
    )


def _watch(roles: RolesByName, role: str, network: str) -> Watch | None:
    found = (watch for watch in watches(roles, [role]) if watch.network == network)
    return next(found, None)


def with_recording(
    job: LoadedJob, log: Path, channels: Mapping[str, str], marks: Sequence[Mark], marks_file: Path
) -> LoadedJob:
    """The job with one capture more, in memory only: its files stay as they are.

    channels: the network of each of its channels
    """
    loaded = tuple(LoadedMark(mark, marks_file, f"mark[{number}]") for number, mark in enumerate(marks))
    capture = LoadedCapture(log, str(log), "before", dict(channels), loaded)
    return replace(job, captures=(*job.captures, capture))
