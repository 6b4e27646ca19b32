"""A file of coding blocks as read after they were written, for the comparison with a plan."""

from __future__ import annotations

from pathlib import Path

from netcheck.files._job import ReadoutsFile
from netcheck.files._job_parts import load_readouts
from netcheck.files._load import read_model
from netcheck.files._loaded import LoadedReadout, LoadedVehicle


def load_readback(path: Path, vehicle: LoadedVehicle, year: int) -> tuple[LoadedReadout, ...]:
    """The blocks of a readouts file, in file order, each once; ``when`` of all of them is "after".

    Raises InputError that names the file, the key path and what would be right: as for the readouts of a job.
    """
    entries = read_model(path, ReadoutsFile).readout
    return tuple({(r.module, r.did): r for r in load_readouts(path, entries, vehicle, year)}.values())
