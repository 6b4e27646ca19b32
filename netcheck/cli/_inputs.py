"""The files that a command stands on, so that none of them is overwritten by a result."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from netcheck.errors import InputError

if TYPE_CHECKING:
    from netcheck.files import LoadedJob, LoadedVehicle


def job_inputs(job: LoadedJob) -> Iterator[Path]:
    """Job, vehicle, DBC, retrofit, capture and marks files; shipped retrofits are none of the user's."""
    from netcheck.files import side_file

    if job.file is not None:
        yield job.file
    yield from vehicle_inputs(job.vehicle)
    for item in job.items:
        if not item.source.startswith("shipped: "):
            yield Path(item.source)
    for capture in job.captures:
        yield capture.path
        yield side_file(capture.path)


def vehicle_inputs(vehicle: LoadedVehicle) -> Iterator[Path]:
    """The vehicle file and the DBC files of all its networks."""
    yield vehicle.file
    for network in vehicle.model.network:
        yield from vehicle.dbc_paths(network)


def dbc_files(paths: Sequence[Path]) -> Iterator[Path]:
    """DBC files as they were named, and those of folders."""
    for path in paths:
        yield from dbc_in_folder(path) if path.is_dir() else [path]


def dbc_in_folder(folder: Path) -> list[Path]:
    """Its DBC files by name. Raises InputError where it cannot be read or has none."""
    try:
        found = sorted(path for path in folder.iterdir() if path.suffix.lower() == ".dbc")
    except OSError as error:
        raise InputError(
            folder, f"cannot be read: {error.strerror}", remedy="check the permissions of the folder"
        ) from error
    if not found:
        raise InputError(folder, "has no DBC file", remedy="name a folder with *.dbc files")
    return found
