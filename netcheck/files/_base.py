"""What every file model shares: strictness, names, numbers that may be written as keys.

Modules of models do not import ``annotations`` from ``__future__``: pydantic would have to compile each of
them, at each start.
"""

import re
from collections.abc import Iterable
from typing import Annotated, Any, TypeVar

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    ValidationInfo,
    model_validator,
)
from pydantic_core import PydanticCustomError

ROLE_WORD = r"[a-z0-9]+(-[a-z0-9]+)*"
RESOURCE_PATTERN = re.compile(ROLE_WORD)
ROLE_PATTERN = re.compile(rf"{ROLE_WORD}(\.{ROLE_WORD})*")
NUMBER_KEY = r"0x[0-9A-Fa-f](_?[0-9A-Fa-f]){0,31}|0|[1-9](_?[0-9]){0,31}"

T = TypeVar("T")


class FileModel(BaseModel):
    """A table of a file: unknown keys are errors, values are not coerced, instances are frozen."""

    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        strict=True,
        populate_by_name=True,
        allow_inf_nan=False,
        defer_build=True,  # validators of files that nobody reads, and of tables inside, are not made
    )

    @model_validator(mode="before")
    @classmethod
    def _written_names(cls, table: Any, info: ValidationInfo) -> Any:
        """In a file the key is ``from``; ``from_`` is its name in Python only."""
        if info.context and isinstance(table, dict):
            for name, field in cls.model_fields.items():
                if field.alias not in (None, name) and name in table:
                    raise bad("unknown key", remedy=f"write {field.alias}", at=[name])
        return table


def bad(what: str, *, remedy: str = "", at: Iterable[str | int] = ()) -> PydanticCustomError:
    """An error of a model's own check; ``at`` is the key path below the table that was checked."""
    return PydanticCustomError("netcheck", "{what}", {"what": what, "remedy": remedy, "at": list(at)})


def _role_name(name: str) -> str:
    if not ROLE_PATTERN.fullmatch(name):
        raise bad(
            f"'{name}' is not a role name",
            remedy="use lower case, join words with '-' and groups with '.', such as wheel.volume-up",
        )
    return name


def _resource_name(name: str) -> str:
    if not RESOURCE_PATTERN.fullmatch(name):
        raise bad(
            f"'{name}' is not a resource name",
            remedy="use lower case and join words with '-', such as video-in",
        )
    return name


def _span(years: tuple[int, int]) -> tuple[int, int]:
    first, last = years
    if first > last:
        raise bad(
            f"the first year {first} is after the last year {last}", remedy="write the earlier year first"
        )
    return years


def _number_key(key: Any) -> Any:
    """Read a TOML key such as ``0x2210`` or ``3`` as a number; TOML keys are always strings."""
    if isinstance(key, str):
        if not re.fullmatch(NUMBER_KEY, key):
            raise bad(f"'{key}' is not a number", remedy="write a whole number such as 3 or 0x2210")
        return int(key, 0)
    return key


def _one_spelling(table: Any) -> Any:
    """Refuse ``0x600`` beside ``0x0600``: the second would silently hide the first."""
    seen: dict[int, str] = {}
    for key in table if isinstance(table, dict) else ():
        if isinstance(key, str) and re.fullmatch(NUMBER_KEY, key):
            number = int(key, 0)
            if number in seen:
                raise bad(f"'{key}' and '{seen[number]}' are the same number", remedy="keep one", at=[key])
            seen[number] = key
    return table


RoleName = Annotated[
    str, AfterValidator(_role_name), Field(json_schema_extra={"pattern": f"^{ROLE_PATTERN.pattern}$"})
]
ResourceName = Annotated[
    str,
    AfterValidator(_resource_name),
    Field(json_schema_extra={"pattern": f"^{RESOURCE_PATTERN.pattern}$"}),
]
NonEmpty = Annotated[str, Field(min_length=1)]
Whole = Annotated[int, Field(strict=True)]
Number = Annotated[float, Field(strict=True)]
Years = Annotated[tuple[Whole, Whole], Field(strict=False), AfterValidator(_span)]
NumberKey = Annotated[int, BeforeValidator(_number_key)]
NumberTable = Annotated[dict[NumberKey, T], BeforeValidator(_one_spelling)]
Several = Annotated[tuple[T, ...], Field(strict=False)]  # a TOML list
