"""Which captures are meant: captures, folders of them, and job files, which say what they are of."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import field
from pathlib import Path
from typing import Final

from netcheck.archive._read import WantedCapture
from netcheck.errors import InputError, NetcheckError
from netcheck.files import Job, has_capture_name, load_capture, load_vehicle, read_model, side_marks
from netcheck.records import dataclass

_JOB: Final = ".job.toml"
_MARKS: Final = ".marks.toml"  # read with the capture that they stand beside


@dataclass
class FoundCaptures:
    """What was found. others: files of folders that are no captures; refused: name → why it is left out."""

    captures: list[WantedCapture] = field(default_factory=list)
    others: int = 0
    refused: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class CaptureFacts:
    """What a person says of all captures: the vehicle file, the model year, the VIN, before or after."""

    vehicle: Path | None = None
    year: int | None = None
    vin: str | None = None
    fitting: str | None = None


def find_captures(paths: Sequence[str], known: CaptureFacts) -> FoundCaptures:
    """The captures behind some paths and addresses, each once; those of a job are known by their job.

    A folder is searched with all folders in it. Raises InputError for a path that is not there, when it is
    the only one.
    """
    found = FoundCaptures()
    of_jobs: dict[Path, WantedCapture] = {}
    plain: dict[str, None] = {}
    for path in paths:
        if "://" in path:
            plain[path] = None
            continue
        for file in _files(Path(path)):
            if file.name.lower().endswith(_JOB):
                _take_job(file, known, of_jobs, found)
            elif has_capture_name(file) or file == Path(path):
                plain[str(file)] = None
            elif not file.name.endswith(_MARKS):
                found.others += 1
    for wanted in of_jobs.values():
        found.captures.append(wanted)
    for name in plain:
        if "://" in name or Path(name).resolve() not in of_jobs:
            _take(name, known, found)
    return found


def _files(path: Path) -> Iterator[Path]:
    try:
        if not path.is_dir():
            yield path
            return
        for entry in sorted(path.iterdir()):
            if entry.is_dir():
                if not entry.is_symlink():
                    yield from _files(entry)
            elif not entry.name.startswith("."):
                yield entry
    except OSError as error:
        raise InputError(
            path, f"cannot be read: {error.strerror}", remedy="check the permissions of the folder"
        ) from error


def _take(name: str, known: CaptureFacts, found: FoundCaptures) -> None:
    try:
        marks = side_marks(Path(name)) if "://" not in name else ()
    except NetcheckError as error:
        found.refused[name] = str(error)
        return
    found.captures.append(
        WantedCapture(name, name, known.vehicle, known.year, known.vin, known.fitting, marks=marks)
    )


def _take_job(
    file: Path, known: CaptureFacts, of_jobs: dict[Path, WantedCapture], found: FoundCaptures
) -> None:
    """The captures that a job names; a job that cannot be read is left out and told."""
    try:
        job = read_model(file, Job)
        vehicle = file.parent / job.vehicle
        model = load_vehicle(vehicle).model
        for index, entry in enumerate(job.capture):
            capture = load_capture(file, index, entry, model)
            wanted = WantedCapture(
                str(capture.path),
                str(capture.path),
                vehicle,
                job.model_year,
                known.vin or job.identity.vin,
                capture.when,
                capture.channels,
                capture.marks,
            )
            of_jobs.setdefault(capture.path.resolve(), wanted)
    except NetcheckError as error:
        found.refused[str(file)] = str(error)
