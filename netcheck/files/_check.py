"""What a vehicle file's tables say about each other: every reference must lead somewhere."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Final

from netcheck.files._base import RESOURCE_PATTERN
from netcheck.files._explain import Path, Problem
from netcheck.files._vehicle import CodingField, Fact, Module, UnlockedBy, Vehicle
from netcheck.files._wording import described, one_of, quoted

RESOURCE_FACT: Final = "resource."  # before the name of a resource, in a fact's name


def vehicle_problems(vehicle: Vehicle) -> Iterator[Problem]:
    """Everything that does not fit together, in file order."""
    for name, module in vehicle.module.items():
        at: Path = ("module", name)
        for index, network in enumerate(module.networks):
            if network not in vehicle.network:
                place: Path = ("network",) if isinstance(module.network, str) else ("network", index)
                yield unknown((*at, *place), network, "a network of this file", vehicle.network)
        yield from _outside_span(vehicle, module.years, at)
    for role, sources in vehicle.role.items():
        for index, source in enumerate(sources):
            at = ("role", role, index)
            if source.network not in vehicle.network:
                yield unknown((*at, "network"), source.network, "a network of this file", vehicle.network)
            yield from _outside_span(vehicle, source.years, at)
            if source.unlocked_by is not None:
                yield from _unlock(vehicle, source.unlocked_by, (*at, "unlocked_by"))
    yield from resource_problems(vehicle.facts)


def resource_problems(facts: Mapping[str, Fact]) -> Iterator[Problem]:
    """Facts ``resource.X`` that do not say how many of X there are."""
    for name, value in facts.items():
        if not name.startswith(RESOURCE_FACT):
            continue
        resource = name.removeprefix(RESOURCE_FACT)
        if not RESOURCE_PATTERN.fullmatch(resource):
            what = f"{quoted(resource)} is not a resource name"
            yield Problem(("facts", name), what, "use lower case and join words with '-'")
        elif isinstance(value, bool) or not isinstance(value, int) or value < 0:
            what = f"{described(value)} does not say how many there are"
            yield Problem(("facts", name), what, "write a whole number, 0 for none")


def unknown(path: Path, wrong: str, kind: str, names: Iterable[str]) -> Problem:
    """A name that is not one of ``names``."""
    return Problem(path, f"{quoted(wrong)} is not {kind}", one_of(wrong, names))


def value_problem(field: CodingField, value: str | int, path: Path, where: str) -> Problem | None:
    """Why a coding field cannot be at a value: an unknown label, or a number too large for its width."""
    if isinstance(value, int):
        if field.holds(value):
            return None
        return Problem(
            path, f"{value} does not fit into the {field.width} bit of {where}", f"use {field.range_text}"
        )
    if value in field.values.values():
        return None
    return Problem(
        path,
        f"{quoted(value)} is not a value of {where}",
        one_of(
            value,
            field.values.values(),
            none=f"it has no labels: use a number, {field.range_text}",
        ),
    )


def coding_field(module: Module, name: str) -> CodingField | None:
    """The module's coding field of that name, None if it has none."""
    return next((block.field[name] for block in module.coding.values() if name in block.field), None)


def field_names(module: Module) -> list[str]:
    """The names of all coding fields of a module, in file order."""
    return [name for block in module.coding.values() for name in block.field]


def _outside_span(vehicle: Vehicle, years: tuple[int, int] | None, at: Path) -> Iterator[Problem]:
    first, last = vehicle.model_years
    if years is not None and (years[1] < first or years[0] > last):
        yield Problem(
            (*at, "years"),
            f"{years[0]} to {years[1]} is outside the vehicle's model years",
            f"use years from {first} to {last}",
        )


def _unlock(vehicle: Vehicle, unlock: UnlockedBy, at: Path) -> Iterator[Problem]:
    module = vehicle.module.get(unlock.module)
    if module is None:
        yield unknown((*at, "module"), unlock.module, "a module of this file", vehicle.module)
        return
    field = coding_field(module, unlock.field)
    if field is None:
        kind = f"a coding field of module '{unlock.module}'"
        yield unknown((*at, "field"), unlock.field, kind, field_names(module))
        return
    problem = value_problem(field, unlock.value, (*at, "value"), f"{unlock.module}.{unlock.field}")
    if problem:
        yield problem
