"""What ships with the package: retrofit files and the vocabularies of roles, modules, resources, as data."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from pathlib import Path
from types import MappingProxyType
from typing import Annotated, Literal

from pydantic import Field

from netcheck.errors import UsageError
from netcheck.files import FileModel, NonEmpty, ResourceName, RoleName, Several, one_of, parse_toml, read_text

SUFFIX = ".retrofit.toml"


class RoleInfo(FileModel):
    """What a role of the vocabulary means on any vehicle.

    states:   the trade's usual states, or the unit for one that has values
    usual_ms: how often it is usually sent, fastest and slowest, in ms; common practice
    """

    title: NonEmpty
    meaning: NonEmpty
    states: Several[NonEmpty] = ()
    unit: str = ""
    usual_ms: Annotated[tuple[int, int], Field(strict=False)]

    @property
    def kind(self) -> Literal["state", "value", "text"]:
        """What its signal holds: one of a few states, a quantity or a text."""
        if self.unit:
            return "value"
        return "state" if self.states else "text"


class _RolesFile(FileModel):
    role: dict[RoleName, RoleInfo] = Field(min_length=1)


class ModuleInfo(FileModel):
    """What a module of the vocabulary does on any vehicle."""

    title: NonEmpty
    meaning: NonEmpty


class _ModulesFile(FileModel):
    module: dict[NonEmpty, ModuleInfo] = Field(min_length=1)


class ResourceInfo(FileModel):
    """What a resource of the vocabulary is, whichever part or vehicle offers it."""

    title: NonEmpty
    meaning: NonEmpty


class _ResourcesFile(FileModel):
    resource: dict[ResourceName, ResourceInfo] = Field(min_length=1)


@cache
def shipped() -> tuple[str, ...]:
    """The names of the shipped retrofits, sorted."""
    return tuple(sorted(path.name.removesuffix(SUFFIX) for path in _folder().glob(f"*{SUFFIX}")))


def shipped_retrofit_path(name: str) -> Path:
    """The file of a shipped retrofit. Raises UsageError that lists the shipped ones, nearest first."""
    if name not in shipped():
        names = one_of(name, shipped(), most=len(shipped()))
        raise UsageError(
            f"'{name}' is not a shipped retrofit",
            remedy=f"{names}; a path of your own contains '/' or ends in .toml",
        )
    return _folder() / f"{name}{SUFFIX}"


@cache
def roles() -> Mapping[str, RoleInfo]:
    """The vocabulary of roles: a list to choose from, no limit. In the order of its file."""
    path = _folder() / "roles.toml"
    table = parse_toml(path, read_text(path))
    return MappingProxyType(_RolesFile.model_validate(table).role)


@cache
def modules() -> Mapping[str, ModuleInfo]:
    """The vocabulary of modules, which shipped retrofits use. In the order of its file."""
    path = _folder() / "modules.toml"
    table = parse_toml(path, read_text(path))
    return MappingProxyType(_ModulesFile.model_validate(table).module)


@cache
def resources() -> Mapping[str, ResourceInfo]:
    """The vocabulary of resources, which shipped retrofits use. In the order of its file."""
    path = _folder() / "resources.toml"
    table = parse_toml(path, read_text(path))
    return MappingProxyType(_ResourcesFile.model_validate(table).resource)


def _folder() -> Path:
    """The folder of the data files; the package is always installed as files, never run from an archive."""
    return Path(str(files("netcheck.catalogue")))
