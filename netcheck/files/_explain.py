"""pydantic's errors in the words of the file: one clear line, the most helpful of several."""

from __future__ import annotations

import re
import types
from collections.abc import Iterator
from typing import Annotated, Any, Final, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from netcheck.files._wording import described, one_of
from netcheck.records import dataclass
from netcheck.words import listing

Path = tuple[str | int, ...]

EXPECTED: Final = {
    "string_type": "a text",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "float_type": "a number",
    "bool_type": "true or false",
    "tuple_type": "a list",
    "dict_type": "a table",
    "model_type": "a table",
    "model_attributes_type": "a table",
    "finite_number": "a finite number",
}
NUMBER_TEXT: Final = r"[-+]?(0x[0-9A-Fa-f_]+|[0-9][0-9._]*)"
BOUNDS: Final = {
    "greater_than": ("gt", "must be above"),
    "greater_than_equal": ("ge", "must be at least"),
    "less_than": ("lt", "must be below"),
    "less_than_equal": ("le", "must be at most"),
}


@dataclass(eq=False)
class Problem(Exception):  # noqa: N818 - not yet an error: the loader adds the file
    """What is wrong at a key path of a file."""

    path: Path
    what: str
    remedy: str = ""


def explain(error: ValidationError, table: dict[str, Any], model: type[BaseModel]) -> Problem:
    """The most helpful of the errors: an unknown key, as it may explain a missing one; else the deepest."""
    found = _by_path(error, table)
    unknown = [path for path, details in found.items() if details[0]["type"] == "extra_forbidden"]
    path = unknown[0] if unknown else max(found, key=len)
    return _problem(path, found[path], model)


def explain_all(error: ValidationError, table: dict[str, Any], model: type[BaseModel]) -> list[Problem]:
    """Each of the errors, one for a key path, in the order of pydantic's fields."""
    return [_problem(path, details, model) for path, details in _by_path(error, table).items()]


def _by_path(error: ValidationError, table: dict[str, Any]) -> dict[Path, list[ErrorDetails]]:
    found: dict[Path, list[ErrorDetails]] = {}
    for detail in error.errors(include_url=False):
        found.setdefault(_written_path(detail, table), []).append(detail)
    return found


def _written_path(detail: ErrorDetails, table: dict[str, Any]) -> Path:
    """pydantic's place without its own additions (union members, ``[key]``), plus what our checks add."""
    path: list[str | int] = []
    here: Any = table
    for part in detail["loc"]:
        inside = (isinstance(here, dict) and part in here) or (
            isinstance(here, list) and isinstance(part, int) and part < len(here)
        )
        if inside:
            here = here[part]
            path.append(part)
        elif detail["type"] == "missing" and part == detail["loc"][-1]:
            path.append(part)
    if detail["type"] == "netcheck":
        path.extend(detail["ctx"]["at"])
    return tuple(path)


def _problem(path: Path, details: list[ErrorDetails], model: type[BaseModel]) -> Problem:
    first = details[0]
    kind, context = first["type"], first.get("ctx", {})
    if kind == "netcheck":
        return Problem(path, context["what"], context["remedy"])
    if kind == "extra_forbidden":
        return Problem(path, "unknown key", one_of(str(path[-1]), _keys_at(model, path[:-1])))
    if kind == "missing":
        return _missing(path, model)
    for detail in details:  # of a union, the member whose type is right says it best
        what = _out_of_bounds(detail)
        if what:
            return Problem(path, what)
    return _wrong_type(path, details, model)


def _out_of_bounds(detail: ErrorDetails) -> str:
    """What is wrong with a value of the right type; "" if its type is not right."""
    kind, value, context = detail["type"], detail["input"], detail.get("ctx", {})
    if kind in BOUNDS:
        bound, words = BOUNDS[kind]
        return f"{words} {_number(context[bound])}, not {_number(value)}"
    if kind == "too_long":
        return f"needs {context['max_length']} entries, not {context['actual_length']}"
    if kind == "too_short":
        least = context["min_length"]
        return f"needs at least {'one entry' if least == 1 else f'{least} entries'}"
    return "must not be empty" if kind == "string_too_short" else ""


def _number(value: float) -> str:
    """Identifiers in hex, as people write them; other numbers as they are."""
    return f"0x{value:X}" if isinstance(value, int) and value > 0xFF else f"{value:g}"


def _wrong_type(path: Path, details: list[ErrorDetails], model: type[BaseModel]) -> Problem:
    value = details[0]["input"]
    wanted: list[str] = []
    for detail in details:
        if detail["type"] == "literal_error":
            choices = re.findall(r"'([^']*)'", detail["ctx"]["expected"])
            near = one_of(value if isinstance(value, str) else "", choices)
            return Problem(path, f"{described(value)} is not possible here", near)
        words = EXPECTED.get(detail["type"], detail["msg"])
        if words not in wanted:
            wanted.append(words)
    what = f"must be {listing(wanted, last='or')}, not {described(value)}"
    return Problem(path, what, _brackets_and_quotes(path, wanted, value, model))


def _brackets_and_quotes(path: Path, wanted: list[str], value: Any, model: type[BaseModel]) -> str:
    """What would be right, where TOML's own signs were mixed up."""
    name = ".".join(part for part in path if isinstance(part, str))
    if "a list" in wanted and isinstance(value, dict) and _models_at(model, (*path, 0)):
        return f"write [[{name}]], with two brackets"
    if "a table" in wanted and isinstance(value, list) and not any(isinstance(part, int) for part in path):
        return f"write [{name}], with one bracket"
    number_wanted = wanted[0] in {"a whole number", "a number"}
    if number_wanted and isinstance(value, str) and re.fullmatch(NUMBER_TEXT, value):
        return "write numbers without quotes"
    return ""


def _missing(path: Path, model: type[BaseModel]) -> Problem:
    key = path[-1]
    if isinstance(key, int):
        return Problem(path[:-1], "needs two values", "write a list of two")
    for owner in _models_at(model, path[:-1]):
        for name, field in owner.model_fields.items():
            if (field.alias or name) == key and field.description:
                words = field.description.removeprefix("the ")
                say = f"say {words}" if words.startswith("what ") else f"give the {words}"
                return Problem(path, "is missing", say)
    return Problem(path, "is missing")


def _keys_at(model: type[BaseModel], path: Path) -> Iterator[str]:
    for owner in _models_at(model, path):
        for name, field in owner.model_fields.items():
            yield field.alias or name


def _models_at(model: type[BaseModel], path: Path) -> list[type[BaseModel]]:
    """The models that describe the table at a key path."""
    kinds: list[Any] = [model]
    for part in path:
        kinds = [inner for kind in kinds for inner in _step(kind, part)]
    return [kind for kind in kinds if isinstance(kind, type) and issubclass(kind, BaseModel)]


def _step(kind: Any, part: str | int) -> Iterator[Any]:
    """What an annotation says about the value at one key or index of it."""
    if isinstance(kind, type) and issubclass(kind, BaseModel):
        for name, field in kind.model_fields.items():
            if (field.alias or name) == part:
                yield from _members(field.annotation)
        return
    arguments = get_args(kind)
    if get_origin(kind) is tuple and isinstance(part, int):
        yield from _members(arguments[0])
    elif get_origin(kind) is dict and isinstance(part, str):
        yield from _members(arguments[1])


def _members(annotation: Any) -> Iterator[Any]:
    """The annotation without Annotated, and the members of a union one by one."""
    origin = get_origin(annotation)
    if origin is Annotated:
        yield from _members(get_args(annotation)[0])
    elif origin in {Union, types.UnionType}:
        for member in get_args(annotation):
            yield from _members(member)
    else:
        yield annotation
