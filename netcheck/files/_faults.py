"""Every fault of a file at once, where loading it ends with the first."""

from __future__ import annotations

import copy
from collections.abc import Callable, Iterator
from dataclasses import field
from pathlib import Path as FilePath
from typing import Any, Final, TypeVar

from pydantic import ValidationError

from netcheck.errors import InputError
from netcheck.files._base import FileModel
from netcheck.files._check import vehicle_problems
from netcheck.files._explain import Path, Problem, explain_all
from netcheck.files._load import KINDS, check_head, dbc_problems, flattened, problem_error
from netcheck.files._loaded import LoadedVehicle
from netcheck.files._toml import parse_toml, read_text
from netcheck.files._vehicle import Vehicle
from netcheck.files._wording import described, one_of
from netcheck.records import dataclass

_MOST_ROUNDS: Final = 200  # of taking faults out and looking again; more than anyone mends at once

T = TypeVar("T")


@dataclass(frozen=True)
class CheckedModel:
    """A file without its faulty places.

    model: what is left; None where nothing usable is
    gone:  names of what was taken out: a reference to one of them is no further fault
    """

    model: FileModel | None
    faults: tuple[InputError, ...]
    gone: frozenset[str]


def parsed_file(path: FilePath) -> tuple[type[FileModel], dict[str, Any], str]:
    """The model that a file says it is of, its table and its text.

    Raises InputError for a file that cannot be read, is no TOML or says no kind that there is.
    """
    text = read_text(path)
    table = parse_toml(path, text)
    kind = table.get("kind")
    if not isinstance(kind, str) or kind not in KINDS:
        what = "is missing" if kind is None else f"{described(kind)} is not a kind of file"
        near = one_of(kind if isinstance(kind, str) else "", KINDS)
        raise InputError(path, what, where="kind", remedy=near)
    return KINDS[kind], table, text


def check_model(path: FilePath, model: type[FileModel], table: dict[str, Any], text: str) -> CheckedModel:
    """The faults of a file's own tables, and what is left when each faulty place is taken out.

    What is left tells faults of references, which a file with a misspelt key may have as well.
    """
    kind = next(name for name, other in KINDS.items() if other is model)
    try:
        check_head(table, kind)
        rest = _Rest(path, copy.deepcopy(flattened(table, model, text)))
    except Problem as problem:
        return CheckedModel(None, (problem_error(path, problem),), frozenset())
    for _ in range(_MOST_ROUNDS):
        try:
            return rest.checked(model.model_validate(rest.table, context={"file": True}))
        except ValidationError as error:
            problems = explain_all(error, rest.table, model)
        places = [rest.original(problem.path) for problem in problems]
        known = [rest.take_out(place, problem) for place, problem in zip(places, problems, strict=True)]
        if not all(known):
            break
    return rest.checked(None)


@dataclass
class _Rest:
    """A table that loses its faulty places. Key paths are those of the file, whatever was taken out."""

    file: FilePath
    table: dict[str, Any]
    faults: dict[Path, InputError] = field(default_factory=dict)
    gone: set[Path] = field(default_factory=set)
    lost: dict[Path, list[int]] = field(default_factory=dict)  # entries that were taken out of a list

    def checked(self, model: FileModel | None) -> CheckedModel:
        names = frozenset(part for place in self.gone for part in place if isinstance(part, str))
        return CheckedModel(model, tuple(self.faults.values()), names)

    def original(self, path: Path) -> Path:
        """The key path in the file of a key path in what is left."""
        place: Path = ()
        for part in path:
            if isinstance(part, int):
                for lost in sorted(self.lost.get(place, ())):
                    part += lost <= part  # noqa: PLW2901
            place = (*place, part)
        return place

    def take_out(self, place: Path, problem: Problem) -> bool:
        """Note a fault and take its place out; False where that is the whole file.

        What is missing, or too few, because of what was taken out is no fault: what needs it goes then.
        """
        if not any(known[: len(place)] == place for known in self.gone):
            self.faults.setdefault(
                place, problem_error(self.file, Problem(place, problem.what, problem.remedy))
            )
        if any(place[:depth] in self.gone for depth in range(1, len(place))):
            return True  # what holds it went already
        if not self._remove(place):
            self.gone.add(place)
            while place := place[:-1]:
                if self._remove(place):
                    break
        self.gone.add(place)
        return bool(place)

    def _remove(self, place: Path) -> bool:
        """Whether there was something at a place to take out."""
        here: Any = self.table
        for depth, part in enumerate(place[:-1]):
            here = self._step(here, place[:depth], part)
        if not place or here is None:
            return False
        last = place[-1]
        if isinstance(here, dict) and last in here:
            del here[last]
            return True
        index = self._index(place[:-1], last)
        if isinstance(here, list) and index is not None and index < len(here):
            del here[index]
            self.lost.setdefault(place[:-1], []).append(int(last))
            return True
        return False

    def _step(self, here: Any, above: Path, part: str | int) -> Any:
        if isinstance(here, dict):
            return here.get(part)
        index = self._index(above, part)
        return here[index] if isinstance(here, list) and index is not None and index < len(here) else None

    def _index(self, above: Path, part: str | int) -> int | None:
        """Where an entry of the file's list is now; None where it was taken out."""
        lost = self.lost.get(above, [])
        if not isinstance(part, int) or part in lost:
            return None
        return part - sum(other < part for other in lost)


def vehicle_faults(path: FilePath, checked: CheckedModel) -> Iterator[InputError]:
    """References of a vehicle file that lead nowhere."""
    model = checked.model
    if not isinstance(model, Vehicle):
        return
    for problem in (*vehicle_problems(model), *dbc_problems(LoadedVehicle(path, model))):
        if not any(problem.what.startswith(f"'{name}' is not") for name in checked.gone):
            yield problem_error(path, problem)


def collected(faults: list[InputError], load: Callable[[], T]) -> T | None:
    """What ``load`` returns; None where it raised an InputError, which is noted."""
    try:
        return load()
    except InputError as error:
        faults.append(error)
        return None
