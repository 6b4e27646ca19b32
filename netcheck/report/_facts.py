"""Frozen records as plain values for JSON: every fact under its own name."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from fractions import Fraction
from pathlib import PurePath
from typing import Any

from netcheck.files import Wire
from netcheck.network import FrameId


def kind_of(record: object) -> str:
    """The record's class as a stable code: ``WriteBlock`` is ``write-block``."""
    return re.sub(r"(?<!^)(?=[A-Z])", "-", type(record).__name__).lower()


def facts_of(record: object, *beside: str) -> dict[str, Any]:
    """The fields of a frozen record but for those ``beside``, as values that JSON has.

    Ids are texts such as ``0x123``, shares are numbers of 0 to 1, infinity becomes null.
    """
    if not is_dataclass(record):
        raise TypeError(f"{record!r} is no record")
    return {
        field.name.rstrip("_"): _plain(getattr(record, field.name))
        for field in fields(record)
        if field.name not in beside
    }


def finite(number: float | None) -> float | None:
    """JSON has no infinity: infinity becomes null."""
    return number if number is not None and math.isfinite(number) else None


def _plain(value: object) -> Any:
    if isinstance(value, Enum | FrameId | PurePath):
        return value.value if isinstance(value, Enum) else str(value)
    if isinstance(value, Fraction | float):
        return finite(value) if isinstance(value, float) else round(float(value), 6)
    if isinstance(value, Mapping):
        return {str(key): _plain(entry) for key, entry in value.items()}
    if isinstance(value, tuple | list | frozenset):
        return [_plain(entry) for entry in value]
    if is_dataclass(value):
        return facts_of(value)
    return value.model_dump(by_alias=True) if isinstance(value, Wire) else value
