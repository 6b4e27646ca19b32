"""Every fault of one file, whatever its kind: those of its own tables, and of what it names."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from os import PathLike
from pathlib import Path
from typing import Final

from netcheck.catalogue._load import load_item
from netcheck.errors import InputError
from netcheck.files import (
    KINDS,
    CheckedModel,
    Job,
    LoadedVehicle,
    ReadoutReader,
    Vehicle,
    check_model,
    collected,
    file_fault,
    load_capture,
    load_vehicle,
    network_problems,
    parsed_file,
    problem_error,
    resource_problems,
    vehicle_faults,
    year_problem,
)
from netcheck.records import dataclass

_RELATIVE: Final = "paths are relative to this file"


@dataclass(frozen=True)
class FileFaults:
    """A file and its faults, in the order in which they were found. kind: "" where the file does not say."""

    file: Path
    kind: str
    faults: tuple[InputError, ...]


def check_file(path: str | PathLike[str]) -> FileFaults:
    """Every fault of a vehicle, retrofit, job, marks, readouts or script file at once.

    A reference to something that is faulty itself is told once, as a fault of that. What no file is looked at
    for: frames of captures, and whether a DBC has the messages and signals of roles, which is a finding of a
    plan. Of a vehicle, retrofit or marks file that a job names, the first fault is told.
    """
    path = Path(path)
    try:
        model, table, text = parsed_file(path)
    except InputError as error:
        return FileFaults(path, "", (error,))
    checked = check_model(path, model, table, text)
    further: list[InputError] = []
    if model is Vehicle:
        further += vehicle_faults(path, checked)
    elif isinstance(checked.model, Job):
        further += _job_faults(path, checked.model, checked)
    kind = next(name for name, other in KINDS.items() if other is model)
    return FileFaults(path, kind, (*checked.faults, *further))


def _job_faults(path: Path, job: Job, checked: CheckedModel) -> list[InputError]:
    faults: list[InputError] = [problem_error(path, problem) for problem in resource_problems(job.facts)]
    vehicle_path = path.parent / job.vehicle
    if fault := file_fault(vehicle_path):
        return [InputError(path, f"{fault}: {vehicle_path}", where="vehicle", remedy=_RELATIVE), *faults]
    vehicle = collected(faults, partial(load_vehicle, vehicle_path))
    if vehicle is not None:
        faults += _against_vehicle(path, job, vehicle)
    return [fault for fault in faults if not _is_of_gone(fault, checked.gone)]


def _against_vehicle(path: Path, job: Job, vehicle: LoadedVehicle) -> Iterator[InputError]:
    problem = year_problem(vehicle.model, job.model_year, ("model_year",))
    if problem:
        yield problem_error(path, problem)
    for other in network_problems(job, vehicle.model):
        yield problem_error(path, other)
    faults: list[InputError] = []
    for index in range(len(job.item)):
        collected(faults, partial(load_item, path, job, index, vehicle))
    for index, entry in enumerate(job.capture):
        collected(faults, partial(load_capture, path, index, entry, vehicle.model))
    reader = ReadoutReader(vehicle, job.model_year)
    for index, readout in enumerate(job.readout):
        collected(faults, partial(reader.entry, path, index, readout))
    yield from faults


def _is_of_gone(fault: InputError, gone: frozenset[str]) -> bool:
    return any(fault.what.startswith(f"'{name}' is not") for name in gone)
