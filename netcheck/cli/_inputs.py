"""The files that a job or a vehicle stands on, so that none of them is overwritten by a result."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from netcheck.files import LoadedJob, LoadedVehicle


def job_inputs(job: LoadedJob) -> Iterator[Path]:
    """All files of the user's that a job stands on; shipped retrofits are none of them."""
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
    yield from job.readout_files


def vehicle_inputs(vehicle: LoadedVehicle) -> Iterator[Path]:
    """The vehicle file and the DBC files of all its networks."""
    yield vehicle.file
    for network in vehicle.model.network:
        yield from vehicle.dbc_paths(network)
