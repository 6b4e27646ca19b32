"""Facts of a frozen record as plain values for JSON, so that scripts need no sentence."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from typing import Any

from netcheck.network import FrameId


def facts_json(record: object, *beside: str) -> dict[str, Any]:
    """The record's fields by name, but for those ``beside``. Fractions are rounded to 6 decimals."""
    if not is_dataclass(record):
        raise TypeError(record)
    return {
        field.name: _plain(getattr(record, field.name))
        for field in fields(record)
        if field.name not in beside
    }


def _plain(value: object) -> Any:
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, FrameId):
        return str(value)
    if isinstance(value, float):
        return round(value, 6)
    if isinstance(value, Mapping):
        return {str(key): _plain(entry) for key, entry in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(entry) for entry in value]
    return facts_json(value) if is_dataclass(value) else value
