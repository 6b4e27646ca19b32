"""What a role is called in DBC files: the meanings its name is made of, its units, its labels."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from enum import Enum
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

from netcheck.files import parse_toml, read_text
from netcheck.records import dataclass

_FILE: Final = Path(__file__).with_name("rules.toml")


class RoleKind(Enum):
    """What a signal of a role holds."""

    STATE = "state"  # of a few
    BUTTON = "button"  # pressed or not
    VALUE = "value"  # a quantity with a unit
    TEXT = "text"


@dataclass(frozen=True)
class NamePattern:
    """Meanings that all stand in a name.

    weight:     how well they say the role, 0 to 1
    needs_unit: they say little without the unit of the role
    """

    concepts: tuple[str, ...]
    weight: float
    needs_unit: bool = False


@dataclass(frozen=True)
class NameRule:
    """How signals of a role are known.

    labels:    of the active state, in a table of values; None where no label tells it
    labels_if: a meaning, and the labels of the active state that do where the name has this meaning
    names_of_fields: names of fields that hold several states, of which one label is the active one
    allowed:   what a word may say here, which elsewhere makes it another signal
    barred:    further meanings that make it another signal
    units:     of a quantity, in small letters
    """

    kind: RoleKind
    patterns: tuple[NamePattern, ...]
    labels: re.Pattern[str] | None
    labels_if: tuple[str, re.Pattern[str]] | None
    names_of_fields: tuple[NamePattern, ...]
    allowed: frozenset[str]
    barred: frozenset[str]
    units: frozenset[str]


@cache
def rules() -> Mapping[str, NameRule]:
    """The rule of each role that has one, in the order of the file."""
    table = parse_toml(_FILE, read_text(_FILE))
    return MappingProxyType({role: _rule(entry) for role, entry in table["role"].items()})


_FIELD_WEIGHT: Final = 0.7  # of a name that says only that the field holds several states


def _rule(entry: Mapping[str, Any]) -> NameRule:
    labels, labels_if = entry.get("labels"), entry.get("labels_if")
    return NameRule(
        kind=RoleKind(entry["kind"]),
        patterns=tuple(_patterns(entry)),
        labels=re.compile(labels, re.IGNORECASE) if labels else None,
        labels_if=(labels_if[0], re.compile(labels_if[1], re.IGNORECASE)) if labels_if else None,
        names_of_fields=tuple(
            NamePattern(tuple(name.split()), _FIELD_WEIGHT) for name in entry.get("names_of_fields", ())
        ),
        allowed=frozenset(entry.get("allowed", ())),
        barred=frozenset(entry.get("barred", ())),
        units=frozenset(entry.get("units", ())),
    )


def _patterns(entry: Mapping[str, Any]) -> Iterator[NamePattern]:
    for key, needs_unit in (("names", False), ("names_with_unit", True)):
        for name, weight in entry.get(key, {}).items():
            yield NamePattern(tuple(name.split()), weight, needs_unit)
