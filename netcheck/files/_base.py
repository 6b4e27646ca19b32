"""What every file model shares: strictness, names, numbers that may be written as keys."""

from __future__ import annotations

import re
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field

ROLE_PATTERN = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*(\.[a-z0-9]+(-[a-z0-9]+)*)*")


class FileModel(BaseModel):
    """A table of a file: unknown keys are errors, values are not coerced, instances are frozen."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, populate_by_name=True)


def _role_name(name: str) -> str:
    if not ROLE_PATTERN.fullmatch(name):
        raise ValueError("a role is lower case, words joined by '-', groups by '.', like 'wheel.volume-up'")
    return name


def _span(years: tuple[int, int]) -> tuple[int, int]:
    first, last = years
    if first > last:
        raise ValueError(f"the first year {first} is after the last year {last}")
    return years


def _number_key(key: Any) -> Any:
    """Read a TOML key such as ``0x0600`` or ``3`` as a number; TOML keys are always strings."""
    if isinstance(key, str):
        try:
            return int(key, 0)
        except ValueError:
            raise ValueError(f"'{key}' is not a number such as 3 or 0x0600") from None
    return key


RoleName = Annotated[str, AfterValidator(_role_name)]
Years = Annotated[tuple[int, int], Field(strict=False), AfterValidator(_span)]
NumberKey = Annotated[int, BeforeValidator(_number_key)]
