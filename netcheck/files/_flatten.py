"""Names with dots: ``[[role.wheel.volume-up]]`` is the role ``wheel.volume-up``, and so with facts."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from typing import Any

from netcheck.files._base import ROLE_PATTERN
from netcheck.files._explain import Problem
from netcheck.files._vehicle import RoleSource

Spelling = tuple[str, ...]  # a role's name as the keys it was written with


def flatten_facts(facts: Any) -> Any:
    """Facts by their full names. Raises Problem if a name is written in two ways."""
    if not isinstance(facts, dict):
        return facts
    flat: dict[str, Any] = {}
    for name, value in _leaves(facts, ()):
        if name in flat:
            raise Problem(("facts", name), "is written twice", "keep one")
        flat[name] = value
    return flat


def _leaves(table: dict[str, Any], above: Spelling) -> Iterator[tuple[str, Any]]:
    for key, value in table.items():
        if isinstance(value, dict):
            yield from _leaves(value, (*above, key))
        else:
            yield ".".join((*above, key)), value


def flatten_roles(roles: Any, text: str = "") -> Any:
    """Roles by their full names, the entries of both spellings joined in the order of the file's text.

    Raises Problem for a role written as ``[role.x]`` instead of ``[[role.x]]``.
    """
    if not isinstance(roles, dict):
        return roles
    entries = list(_entries(roles, ()))
    spellings: dict[str, set[Spelling]] = {}
    for spelling, _ in entries:
        spellings.setdefault(".".join(spelling), set()).add(spelling)
    if any(len(ways) > 1 for ways in spellings.values()):
        entries = _in_text_order(entries, text)
    flat: dict[str, list[Any]] = {}
    for spelling, entry in entries:
        flat.setdefault(".".join(spelling), []).append(entry)
    return flat


def _entries(table: dict[str, Any], above: Spelling) -> Iterator[tuple[Spelling, Any]]:
    """Every entry with its role's spelling; a group inside an entry belongs to the group, not to the entry.

    TOML puts ``[[role.park.switch]]`` into the last entry of ``[[role.park]]``, if there is one.
    """
    for key, value in table.items():
        spelling = (*above, key)
        if isinstance(value, dict) and not _is_entry(value):
            yield from _entries(value, spelling)
        elif isinstance(value, list):
            for entry in value:
                inner = {
                    name: inside
                    for name, inside in (entry.items() if isinstance(entry, dict) else ())
                    if name not in RoleSource.model_fields
                    and ROLE_PATTERN.fullmatch(name)
                    and _is_group(inside)
                }
                own = {k: v for k, v in entry.items() if k not in inner} if inner else entry
                yield spelling, own
                yield from _entries(inner, spelling)
        else:
            name = ".".join(spelling)
            raise Problem(
                ("role", name), "must be a list of entries", f"write [[role.{name}]], with two brackets"
            )


def _is_entry(table: dict[str, Any]) -> bool:
    """Whether a table was meant as an entry of a role, not as a group of roles."""
    return any(key in RoleSource.model_fields and not _is_group(value) for key, value in table.items())


def _is_group(value: Any) -> bool:
    """Whether a value holds roles: lists of tables, or tables that do."""
    if isinstance(value, list):
        return bool(value) and all(isinstance(entry, dict) for entry in value)
    return isinstance(value, dict) and bool(value) and all(_is_group(inside) for inside in value.values())


def _in_text_order(entries: list[tuple[Spelling, Any]], text: str) -> list[tuple[Spelling, Any]]:
    """The entries in the order of their ``[[role.…]]`` headers, which the parsed table does not keep."""
    headers = [spelling for line in text.splitlines() if (spelling := _header(line))]
    if sorted(headers) != sorted(spelling for spelling, _ in entries):
        return entries  # written inline, or a header inside a long text: the order of first mention must do
    waiting: dict[Spelling, Iterator[Any]] = {
        spelling: iter([entry for other, entry in entries if other == spelling]) for spelling in set(headers)
    }
    return [(spelling, next(waiting[spelling])) for spelling in headers]


def _header(line: str) -> Spelling | None:
    """The spelling in a line such as ``[[role."wheel.volume-up"]]``; None for any other line."""
    if not re.match(r"\s*\[\[\s*[\"']?role[\"']?\s*\.", line):
        return None
    try:
        table: Any = tomllib.loads(line)["role"]
    except (tomllib.TOMLDecodeError, KeyError):
        return None
    spelling: list[str] = []
    while isinstance(table, dict) and table:
        key, table = next(iter(table.items()))
        spelling.append(key)
    return tuple(spelling)
