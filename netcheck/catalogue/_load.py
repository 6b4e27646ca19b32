"""Jobs and retrofits as loaded: everything that a job names, except the frames of captures and DBC files."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from os import PathLike
from pathlib import Path

from netcheck.catalogue._shipped import shipped, shipped_retrofit_path
from netcheck.errors import InputError, UsageError
from netcheck.files import (
    MOST_ITEMS,
    Fact,
    Item,
    Job,
    LoadedCapture,
    LoadedItem,
    LoadedJob,
    LoadedVehicle,
    Retrofit,
    applying,
    coding_field,
    file_fault,
    key_path,
    load_captures,
    load_readouts,
    load_vehicle,
    network_problems,
    one_of,
    present_modules,
    problem_error,
    read_model,
    resource_problems,
    side_marks,
    value_problem,
    year_problem,
)


def load_retrofit(path_or_name: str, base: Path | None = None) -> tuple[Retrofit, str]:
    """A retrofit and where it came from: its file, or ``shipped: NAME``.

    path_or_name: a path (it contains a separator or ends in .toml), or the name of a shipped retrofit
    base:         the folder that a relative path counts from; None for the working directory

    Raises InputError for a faulty or missing file, UsageError for a name that is not shipped.
    """
    if not is_path(path_or_name):
        return read_model(shipped_retrofit_path(path_or_name), Retrofit), f"shipped: {path_or_name}"
    path = base / path_or_name if base else Path(path_or_name)
    return read_model(path, Retrofit), str(path)


def is_path(path_or_name: str) -> bool:
    """Whether a retrofit is given as a path, not as the name of a shipped one."""
    separators = {"/", os.sep, os.altsep or "/"}
    return path_or_name.lower().endswith(".toml") or any(mark in path_or_name for mark in separators)


def load_job(path: str | PathLike[str]) -> LoadedJob:
    """A job file with all that it names, except the frames of captures and the DBC files; those must exist.

    Marks of the side files stand beside the job's own. Raises InputError that names the file, the key path
    and what would be right.
    """
    path = Path(path)
    job = read_model(path, Job)
    vehicle_path = path.parent / job.vehicle
    fault = file_fault(vehicle_path)
    if fault:
        raise InputError(
            path, f"{fault}: {vehicle_path}", where="vehicle", remedy="paths are relative to this file"
        )
    vehicle = load_vehicle(vehicle_path)
    problem = year_problem(vehicle.model, job.model_year, ("model_year",))
    if problem:
        raise problem_error(path, problem)
    for problem in (*network_problems(job, vehicle.model), *resource_problems(job.facts)):
        raise problem_error(path, problem)
    items = tuple(_job_items(path, job, vehicle))
    captures = load_captures(path, job, vehicle.model)
    readouts = load_readouts(path, job.readout, vehicle, job.model_year)
    loaded = LoadedJob(
        file=path,
        name=path.name.removesuffix(".toml").removesuffix(".job"),
        model_year=job.model_year,
        vehicle=vehicle,
        items=items,
        captures=captures,
        readouts=readouts.blocks,
        module_readouts=readouts.modules,
        readout_files=readouts.files,
        expect=job.expect,
        measured=job.measured,
        identity=job.identity,
        own_facts=job.facts,
    )
    notes = (*_idle_wires(path, items, loaded), *_unknown_marks(vehicle, items, captures))
    return replace(loaded, notes=notes)


def assemble_job(
    vehicle: str | PathLike[str],
    retrofits: Sequence[str],
    *,
    network: str | None = None,
    captures: Sequence[str | PathLike[str]] = (),
    year: int | None = None,
) -> LoadedJob:
    """A job from command-line options instead of a file; every item is wired to ``network``.

    Relative paths count from the working directory. Without a year it is the last model year of the
    vehicle's span, and ``notes`` says so. Raises InputError for a faulty file, UsageError for an option
    that does not suit the vehicle.
    """
    loaded = load_vehicle(vehicle)
    notes = []
    if year is None:
        year = loaded.model.model_years[1]
        notes.append(f"No model year was given: {year} is assumed, the last one of the vehicle file")
    problem = year_problem(loaded.model, year, ())
    if problem:
        raise UsageError(f"--year: {problem.what} ({vehicle})", remedy=problem.remedy)
    if network is not None and network not in loaded.model.network:
        raise UsageError(
            f"--network: '{network}' is not a network of {vehicle}",
            remedy=one_of(network, loaded.model.network),
        )
    if not retrofits:
        raise UsageError(
            "no retrofit was given",
            remedy=f"give --retrofit: {one_of('', shipped(), most=len(shipped()))}, or a path",
        )
    if len(retrofits) > MOST_ITEMS:
        raise UsageError(f"{len(retrofits)} retrofits were given", remedy=f"give at most {MOST_ITEMS}")
    items = tuple(_given_items(loaded, retrofits, network, year))
    loaded_captures = tuple(_given_capture(Path(path)) for path in captures)
    return LoadedJob(
        file=None,
        name=", ".join(item.retrofit.name for item in items),
        model_year=year,
        vehicle=loaded,
        items=items,
        captures=loaded_captures,
        readouts=(),
        notes=(*notes, *_unknown_marks(loaded, items, loaded_captures)),
    )


def likely_network(vehicle: str | PathLike[str], retrofit: str) -> str:
    """The vehicle's network that carries most of what a retrofit needs; of several alike the file's first.

    For a first look where nobody said yet where the part is wired. Raises as ``assemble_job`` does.
    """
    model = load_vehicle(vehicle).model
    needs = [need.role for need in load_retrofit(retrofit)[0].need]

    def carried(network: str) -> int:
        return sum(any(entry.network == network for entry in model.role.get(role, ())) for role in needs)

    return max(model.network, key=carried)


def _job_items(path: Path, job: Job, vehicle: LoadedVehicle) -> Iterator[LoadedItem]:
    for index in range(len(job.item)):
        yield load_item(path, job, index, vehicle)


def load_item(path: Path, job: Job, index: int, vehicle: LoadedVehicle) -> LoadedItem:
    """One item of a job with its retrofit. Raises InputError as ``load_job`` does."""
    entry, where = job.item[index], key_path(("item", index))
    if is_path(entry.retrofit):
        fault = file_fault(path.parent / entry.retrofit)
        if fault:
            what = f"{fault}: {path.parent / entry.retrofit}"
            raise InputError(path, what, where=f"{where}.retrofit", remedy="paths are relative to this file")
    try:
        retrofit, source = load_retrofit(entry.retrofit, path.parent)
    except UsageError as error:
        raise InputError(path, error.what, where=f"{where}.retrofit", remedy=error.remedy) from error
    _check_coding(retrofit, source, vehicle, job.model_year, {**vehicle.model.facts, **job.facts})
    if entry.network is None and retrofit.supplies:
        networks = one_of("", vehicle.model.network)
        what = f"is missing, but '{retrofit.name}' sends something"
        raise InputError(path, what, where=f"{where}.network", remedy=f"say where it is wired: {networks}")
    _check_wires(path, where, entry, retrofit)
    return LoadedItem(retrofit, entry.network, source, where, entry.wire)


def _check_wires(path: Path, where: str, entry: Item, retrofit: Retrofit) -> None:
    """A wire for a role that the part does not need is most likely misspelt."""
    needed = [need.role for need in retrofit.need]
    for index, wire in enumerate(entry.wire):
        if wire.role not in needed:
            raise InputError(
                path,
                f"'{retrofit.name}' does not need '{wire.role}'",
                where=f"{where}.{key_path(('wire', index, 'role'))}",
                remedy=one_of(wire.role, needed, none="it needs no signal: take the wire out"),
            )


def _idle_wires(path: Path, items: Sequence[LoadedItem], job: LoadedJob) -> Iterator[str]:
    """Wires that serve no need of this vehicle: the need does not apply, or a module uses the signal."""
    for item in items:
        needs = {need.role: need for need in job.applying(item).needs}
        for index, wire in enumerate(item.wires):
            need = needs.get(wire.role)
            place = f"{path}: {item.where}.{key_path(('wire', index))}"
            if need is None:
                yield f"{place}: the need for '{wire.role}' does not apply to this vehicle"
            elif need.used_by is not None:
                yield (
                    f"{place}: module {need.used_by} uses '{wire.role}', not the part, "
                    "so the wire does not serve the need"
                )


def _given_items(
    vehicle: LoadedVehicle, retrofits: Sequence[str], network: str | None, year: int
) -> Iterator[LoadedItem]:
    for name in retrofits:
        try:
            retrofit, source = load_retrofit(name)
        except UsageError as error:
            raise UsageError(f"--retrofit: {error.what}", remedy=error.remedy) from error
        _check_coding(retrofit, source, vehicle, year, vehicle.model.facts)
        if network is None and retrofit.supplies:
            raise UsageError(
                f"'{retrofit.name}' sends something, so netcheck must know where it is wired",
                remedy=f"give --network: {one_of('', vehicle.model.network)}",
            )
        yield LoadedItem(retrofit, network, source)


def _given_capture(path: Path) -> LoadedCapture:
    fault = file_fault(path)
    if fault:
        raise InputError(path, fault, remedy="check the path given with --capture")
    return LoadedCapture(path=path, name=str(path), when="before", channels={}, marks=side_marks(path))


def _check_coding(
    retrofit: Retrofit, source: str, vehicle: LoadedVehicle, year: int, facts: Mapping[str, Fact]
) -> None:
    """A value that the vehicle's coding field cannot take is an error; a field it has not is a finding."""
    modules = present_modules(vehicle.model, year)
    codes = applying(retrofit, facts).codes
    for index, code in enumerate(retrofit.code):
        module = modules.get(code.module)
        field = coding_field(module, code.field) if module else None
        if field is None or code not in codes:
            continue
        where = f"{code.module}.{code.field} in {vehicle.file}"
        problem = value_problem(field, code.value, ("code", index, "value"), where)
        if problem:
            raise InputError(source, problem.what, where=key_path(problem.path), remedy=problem.remedy)


def _unknown_marks(
    vehicle: LoadedVehicle, items: Sequence[LoadedItem], captures: Sequence[LoadedCapture]
) -> Iterator[str]:
    """A mark of a role that nobody knows is most likely misspelt; it would prove nothing, silently."""
    known = {*vehicle.model.role, *(need.role for item in items for need in item.retrofit.need)}
    for capture in captures:
        for loaded in capture.marks:
            if loaded.mark.role not in known:
                yield (
                    f"{loaded.file}: {loaded.where}.role: neither the vehicle nor an item knows "
                    f"'{loaded.mark.role}', so the mark is not used – {one_of(loaded.mark.role, known)}"
                )
