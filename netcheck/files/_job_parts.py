"""What a job file names besides its retrofits: captures with their marks, networks, the year."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Final

from netcheck.errors import InputError
from netcheck.files._check import unknown
from netcheck.files._explain import Problem
from netcheck.files._job import CaptureEntry, Job
from netcheck.files._load import file_fault, load_marks, problem_error
from netcheck.files._loaded import LoadedCapture, LoadedMark
from netcheck.files._vehicle import Module, Vehicle
from netcheck.files._wording import key_path

PACKED: Final = (".gz", ".xz", ".zst", ".bz2")
RECORDED: Final = (".log", ".txt", ".candump", ".asc", ".blf", ".trc", ".csv", ".db", ".mf4")


def has_capture_name(path: Path) -> bool:
    """Whether a file is called as captures are: ``NAME.log``, ``NAME.asc.gz``."""
    name = path.name.lower()
    packing = next((suffix for suffix in PACKED if name.endswith(suffix)), "")
    return name.removesuffix(packing).endswith(RECORDED)


def side_file(capture: Path) -> Path:
    """Where the marks of a capture stand: ``NAME.marks.toml`` for ``NAME.log`` or ``NAME.log.gz``."""
    name = capture.name
    for suffixes in (PACKED, RECORDED):
        ending = next((suffix for suffix in suffixes if name.lower().endswith(suffix)), "")
        name = name[: len(name) - len(ending)] or name
    return capture.with_name(f"{name}.marks.toml")


def side_marks(capture: Path) -> tuple[LoadedMark, ...]:
    """The marks of the file beside a capture; () if there is none. Raises InputError for a faulty one."""
    path = side_file(capture)
    return load_marks(path) if file_fault(path) != "no such file" else ()


def load_captures(file: Path, job: Job, vehicle: Vehicle) -> tuple[LoadedCapture, ...]:
    """The job's captures, not yet read, with their marks: the job's own, then those of the side file.

    Raises InputError for a capture that is gone and a channel of an unknown network.
    """
    return tuple(load_capture(file, index, entry, vehicle) for index, entry in enumerate(job.capture))


def load_capture(file: Path, index: int, entry: CaptureEntry, vehicle: Vehicle) -> LoadedCapture:
    """One capture of a job. Raises InputError as ``load_captures`` does."""
    path = file.parent / entry.file
    fault = file_fault(path)
    if fault:
        where = key_path(("capture", index, "file"))
        raise InputError(file, f"{fault}: {path}", where=where, remedy="paths are relative to this file")
    for channel, network in entry.channels.items():
        if network not in vehicle.network:
            at = ("capture", index, "channels", channel)
            raise problem_error(file, unknown(at, network, "a network of the vehicle", vehicle.network))
    own = tuple(
        LoadedMark(mark, file, key_path(("capture", index, "mark", number)))
        for number, mark in enumerate(entry.mark)
    )
    return LoadedCapture(
        path=path,
        name=entry.file,
        when=entry.when,
        channels=dict(entry.channels),
        marks=own + side_marks(path),
        where=key_path(("capture", index)),
    )


def present_modules(vehicle: Vehicle, year: int) -> dict[str, Module]:
    """The modules that a model year has."""
    return {
        name: module
        for name, module in vehicle.module.items()
        if module.years is None or module.years[0] <= year <= module.years[1]
    }


def year_problem(vehicle: Vehicle, year: int, path: Sequence[str | int]) -> Problem | None:
    """Why a model year does not suit the vehicle file; None if it does."""
    first, last = vehicle.model_years
    if first <= year <= last:
        return None
    return Problem(
        tuple(path), f"{year} is outside the vehicle file's model years", f"they are {first} to {last}"
    )


def did_text(did: int) -> str:
    """A data identifier as it is written: ``0x2210``."""
    return f"0x{did:04X}"


def network_problems(job: Job, vehicle: Vehicle) -> Iterator[Problem]:
    """Items wired to a network that the vehicle does not have, and readings of one."""
    for index, item in enumerate(job.item):
        if item.network is not None and item.network not in vehicle.network:
            yield unknown(
                ("item", index, "network"), item.network, "a network of the vehicle", vehicle.network
            )
    measured = job.measured.network if job.measured is not None else None
    if measured is not None and measured not in vehicle.network:
        yield unknown(("measured", "network"), measured, "a network of the vehicle", vehicle.network)
