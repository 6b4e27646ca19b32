"""The files that a job stands on, so that none of them is overwritten by a result."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from netcheck.files import LoadedJob


def job_inputs(job: LoadedJob) -> Iterator[Path]:
    """Job, vehicle, DBC, retrofit, capture and marks files; shipped retrofits are none of the user's."""
    if job.file is not None:
        yield job.file
    yield job.vehicle.file
    for network in job.vehicle.model.network:
        yield from job.vehicle.dbc_paths(network)
    for item in job.items:
        if not item.source.startswith("shipped: "):
            yield Path(item.source)
    for capture in job.captures:
        yield capture.path
        for mark in capture.marks:
            yield mark.file
