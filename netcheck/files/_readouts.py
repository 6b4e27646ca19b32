"""What was read from modules, checked against the vehicle's model year: of a job, and of files beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import field, replace
from pathlib import Path

from netcheck.errors import InputError
from netcheck.files._check import unknown
from netcheck.files._explain import Problem
from netcheck.files._job_parts import did_text, present_modules
from netcheck.files._load import file_fault, problem_error, read_model
from netcheck.files._loaded import LoadedReadout, LoadedVehicle, ModuleReadout
from netcheck.files._readout_entry import BlockEntry, ReadoutEntry, ReadoutsFile, When, fault_of, hex_bytes
from netcheck.files._vehicle import Vehicle
from netcheck.files._wording import key_path, one_of
from netcheck.records import dataclass


@dataclass(frozen=True)
class Readbacks:
    """What files say was read. blocks: coding; modules: identification and faults; files: those included."""

    blocks: tuple[LoadedReadout, ...] = ()
    modules: tuple[ModuleReadout, ...] = ()
    files: tuple[Path, ...] = ()


@dataclass
class ReadoutReader:
    """Takes a job's readouts one after another, so that each may be at fault by itself."""

    vehicle: LoadedVehicle
    year: int
    blocks: list[LoadedReadout] = field(default_factory=list)
    modules: list[ModuleReadout] = field(default_factory=list)
    files: list[Path] = field(default_factory=list)

    def entry(self, file: Path, index: int, entry: ReadoutEntry) -> None:
        """An entry of a job, with the file that it includes. Raises InputError as ``load_readouts``."""
        if entry.file is None:
            self.take(file, "", index, entry, entry.when)
            return
        path = file.parent / entry.file
        fault = file_fault(path)
        if fault:
            where = key_path(("readout", index, "file"))
            raise InputError(file, f"{fault}: {path}", where=where, remedy="paths are relative to this file")
        self.files.append(path)
        for number, block in enumerate(read_model(path, ReadoutsFile).readout):
            self.take(path, entry.file, number, block, block.when or entry.when)

    def take(self, file: Path, name: str, index: int, entry: ReadoutEntry | BlockEntry, when: When) -> None:
        """One entry. name: of an included file, for messages about two entries that differ"""
        at = ("readout", index)
        where = f"{name}: {key_path(at)}" if name else key_path(at)
        module = present_modules(self.vehicle.model, self.year).get(entry.module or "")
        if module is None:
            raise problem_error(file, _no_module(entry, self.vehicle.model, self.year, index))
        assert entry.module is not None, "a module that is there has a name"
        if entry.identification or entry.faults is not None:
            faults = None if entry.faults is None else tuple(fault_of(text) for text in entry.faults)
            self.modules.append(ModuleReadout(entry.module, when, dict(entry.identification), faults, where))
        if entry.did is None or entry.data is None:
            return
        data = hex_bytes(entry.data)
        block = module.coding.get(entry.did)
        if block is None:
            dids = [did_text(did) for did in module.coding]
            what = f"module '{entry.module}' has no coding block {did_text(entry.did)}"
            raise problem_error(file, Problem((*at, "did"), what, one_of(did_text(entry.did), dids)))
        if len(data) != block.length:
            what = (
                f"{len(data)} bytes, but block {did_text(entry.did)} of '{entry.module}' has {block.length}"
            )
            raise InputError(file, what, where=key_path((*at, "data")), remedy="give the whole readout")
        readout = LoadedReadout(entry.module, entry.did, data, when, where)
        for other in self.blocks:
            if _same_block(other, readout) and other.data != data:
                what = f"differs from {other.where}, a readout of the same block from the same time"
                raise InputError(file, what, where=key_path((*at, "data")), remedy="keep the right one")
        self.blocks.append(readout)

    def done(self) -> Readbacks:
        """All that was taken."""
        return Readbacks(tuple(self.blocks), tuple(self.modules), tuple(self.files))


def load_readouts(
    file: Path, entries: Sequence[ReadoutEntry], vehicle: LoadedVehicle, year: int
) -> Readbacks:
    """A job's readouts, with those of the files that it includes, in their order.

    An entry of an included file that does not say ``when`` has that of the job's entry.
    Raises InputError for a file that is gone, bytes that are no hex or not the block's length, a module or
    block that this model year does not have, and two readouts of one block that differ.
    """
    reading = ReadoutReader(vehicle, year)
    for index, entry in enumerate(entries):
        reading.entry(file, index, entry)
    return reading.done()


def load_readback(path: Path, vehicle: LoadedVehicle, year: int) -> Readbacks:
    """What a readouts file says of the time after the writing, in file order, each block once.

    Entries that do not say ``when`` are from after it; those from before are left out.
    Raises InputError that names the file, the key path and what would be right: as for the readouts of a
    job, and for a file that has readouts from before only.
    """
    entries = read_model(path, ReadoutsFile).readout
    if all(entry.when == "before" for entry in entries):
        raise InputError(
            path,
            "the text 'before' is not possible here",
            where="readout[0].when",
            remedy="a readback is from after the writing: at least one entry must be",
        )
    reading = ReadoutReader(vehicle, year)
    for index, entry in enumerate(entries):
        if entry.when != "before":
            reading.take(path, "", index, entry, "after")
    found = reading.done()
    return replace(found, blocks=tuple({(r.module, r.did): r for r in found.blocks}.values()))


def _same_block(one: LoadedReadout, other: LoadedReadout) -> bool:
    return (one.module, one.did, one.when) == (other.module, other.did, other.when)


def _no_module(entry: ReadoutEntry | BlockEntry, vehicle: Vehicle, year: int, index: int) -> Problem:
    path, name = ("readout", index, "module"), entry.module or ""
    module = vehicle.module.get(name)
    if module is not None and module.years is not None:
        first, last = module.years
        what = f"module '{name}' is not on a vehicle of model year {year}"
        return Problem(path, what, f"the vehicle file has it for {first} to {last}: check the model year")
    present = present_modules(vehicle, year).items()
    coded = [key for key, known in present if known.coding or entry.did is None]
    return unknown(path, name, "a module of the vehicle", coded)
