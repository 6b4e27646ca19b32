"""Files to models: read, parse, check the kind, validate, check the references."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from os import PathLike
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final, TypeVar

from pydantic import ValidationError

from netcheck.errors import InputError
from netcheck.files._base import FileModel
from netcheck.files._check import vehicle_problems
from netcheck.files._explain import Problem, explain
from netcheck.files._flatten import flatten_facts, flatten_roles
from netcheck.files._job import Job, MarksFile, ReadoutsFile
from netcheck.files._loaded import LoadedMark, LoadedVehicle
from netcheck.files._retrofit import Retrofit
from netcheck.files._script import Script
from netcheck.files._toml import parse_toml, read_text
from netcheck.files._vehicle import Vehicle
from netcheck.files._wording import described, key_path

FORMAT: Final = 1  # the version of every file format that this version reads

KINDS: Final[Mapping[str, type[FileModel]]] = MappingProxyType(
    {
        "vehicle": Vehicle,
        "retrofit": Retrofit,
        "job": Job,
        "marks": MarksFile,
        "readouts": ReadoutsFile,
        "script": Script,
    }
)

M = TypeVar("M", bound=FileModel)


def load_vehicle(path: str | PathLike[str]) -> LoadedVehicle:
    """A vehicle file; its DBC files must exist, they are not read.

    Raises InputError that names the file, the key path and what would be right.
    """
    path = Path(path)
    model = read_model(path, Vehicle)
    for problem in vehicle_problems(model):
        raise problem_error(path, problem)
    vehicle = LoadedVehicle(path, model)
    for problem in dbc_problems(vehicle):
        raise problem_error(path, problem)
    return vehicle


def dbc_problems(vehicle: LoadedVehicle) -> Iterator[Problem]:
    """DBC files of a vehicle that are not there."""
    for name, network in vehicle.model.network.items():
        for index, dbc in enumerate(vehicle.dbc_paths(name)):
            fault = file_fault(dbc)
            if fault:
                at: tuple[str | int, ...] = ("network", name, "dbc")
                place = at if isinstance(network.dbc, str) else (*at, index)
                yield Problem(place, f"{fault}: {dbc}", "paths are relative to this file")


def load_marks(path: str | PathLike[str]) -> tuple[LoadedMark, ...]:
    """The marks of a marks file, in file order. Raises InputError as ``load_vehicle`` does."""
    path = Path(path)
    marks = read_model(path, MarksFile).mark
    return tuple(LoadedMark(mark, path, key_path(("mark", index))) for index, mark in enumerate(marks))


def load_script(path: str | PathLike[str]) -> Script:
    """A script file. Raises InputError as ``load_vehicle`` does."""
    return read_model(Path(path), Script)


def read_model(path: Path, model: type[M]) -> M:
    """One file as its model, references to other files and tables not yet followed.

    Raises InputError for a file that cannot be read, is no TOML, is of another kind or does not validate.
    """
    text = read_text(path)
    return model_of(path, parse_toml(path, text), model, text)


def model_of(path: Path, table: dict[str, Any], model: type[M], text: str = "") -> M:
    """The table of a file as its model; ``text`` tells the order of a role's entries in two spellings.

    Raises InputError for another kind of file and for whatever does not validate.
    """
    kind = next(name for name, other in KINDS.items() if other is model)
    try:
        check_head(table, kind)
        return model.model_validate(flattened(table, model, text), context={"file": True})
    except ValidationError as error:
        raise problem_error(path, explain(error, flattened(table, model, text), model)) from error
    except RecursionError as error:
        raise InputError(path, "tables are nested too deeply") from error
    except Problem as problem:
        raise problem_error(path, problem) from None


def flattened(table: dict[str, Any], model: type[FileModel], text: str) -> dict[str, Any]:
    """The table with the names of roles and facts in one spelling. Raises Problem where that cannot be."""
    if model is Vehicle:
        table = {**table, "role": flatten_roles(table.get("role", {}), text)}
    if model in (Vehicle, Job):
        table = {**table, "facts": flatten_facts(table.get("facts", {}))}
    return table


def problem_error(path: Path, problem: Problem) -> InputError:
    """The problem as an error of that file."""
    return InputError(path, problem.what, where=key_path(problem.path), remedy=problem.remedy)


def file_fault(path: Path) -> str:
    """Why a path names no file, as a clause; "" if it names one."""
    try:
        if path.is_dir():
            return "this is a directory, not a file"
        return "" if path.exists() else "no such file"
    except OSError as error:
        return f"cannot be read ({error.strerror})"


def check_head(table: dict[str, Any], kind: str) -> None:
    """A file of another kind or format is told apart before anything else in it is looked at."""
    found = table.get("kind")
    if found is None:
        raise Problem(("kind",), "is missing", f'this should be a {kind} file: write kind = "{kind}"')
    if found != kind:
        if isinstance(found, str) and found in KINDS:
            raise Problem((), f"this is a {found} file, not a {kind} file", f"give a *.{kind}.toml file")
        raise Problem(("kind",), f"{described(found)} is not possible here", f'write kind = "{kind}"')
    version = table.get("format")
    if version is None:
        raise Problem(("format",), "is missing", f"write format = {FORMAT}")
    if type(version) is not int or version != FORMAT:
        raise Problem(("format",), f"{described(version)} is unknown", f"this version reads format {FORMAT}")
