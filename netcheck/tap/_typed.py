"""Readings as a technician types them: ``termination=60,4 high-idle=2510mV high-shorted=no``."""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Any, Final

from pydantic import ValidationError

from netcheck.errors import UsageError
from netcheck.files import Measured, one_of

_VOLTS: Final = {"": "1", "V": "1", "mV": "0.001"}
_OHMS: Final = {"": "1", "Ω": "1", "mΩ": "0.001", "k": "1000", "kΩ": "1000", "M": "1000000", "MΩ": "1000000"}
_METRES: Final = {"": "1", "m": "1", "cm": "0.01", "mm": "0.001"}
_STATES: Final[Mapping[str, str]] = {}
# Every reading with the units that it may be given in, and what each is of the one that is meant without any.
UNITS: Final[Mapping[str, Mapping[str, str]]] = {
    "termination": _OHMS,
    "high-shorted": _STATES,
    "low-shorted": _STATES,
    "high-idle": _VOLTS,
    "low-idle": _VOLTS,
    "difference-idle": _VOLTS,
    "high-busy": _VOLTS,
    "low-busy": _VOLTS,
    "high-dominant": _VOLTS,
    "low-dominant": _VOLTS,
    "difference-dominant": _VOLTS,
    "stub": _METRES,
}
_OPEN: Final = frozenset({"open", "ol", "o.l", "∞"})  # as meters show it
_BETWEEN: Final = re.compile(r"[\s,;]+(?=[^\s,;=]+=)")  # a comma may also be in a number
_NUMBER: Final = re.compile(r"([+-]?)(\d+(?:[.,]\d*)?|[.,]\d+)(e[+-]?\d{1,2})?\s*([^\d\s.,_/]+)?", re.ASCII)
_GROUPED: Final = re.compile(r"[+-]?\d{1,3},\d{3}\b", re.ASCII)
_SAME: Final = str.maketrans({"\N{OHM SIGN}": "Ω", "\N{MINUS SIGN}": "-"})


def parse_measured(texts: list[str]) -> Measured:
    """The readings as a model. Raises UsageError that says what would be right."""
    values: dict[str, Any] = {}
    for word in _BETWEEN.split(" ".join(texts).translate(_SAME).strip(" \t\r\n,;")):
        key, equals, value = word.partition("=")
        if not equals or not value:
            raise UsageError(f"--measured: '{word}' must be KEY=VALUE", remedy="such as termination=60.4")
        if key not in UNITS:
            raise UsageError(f"--measured: unknown reading '{key}'", remedy=one_of(key, [*UNITS]))
        if key in values:
            raise UsageError(f"--measured: '{key}' is given twice", remedy="give it once")
        values[key] = _value(key, value)
    try:
        return Measured.model_validate(values)
    except ValidationError as error:
        key = str(error.errors()[0]["loc"][0])
        remedy = "no, ground or supply" if UNITS[key] is _STATES else "a number not below 0"
        raise UsageError(f"--measured: {key}={values[key]} is not possible", remedy=remedy) from error


def _value(key: str, text: str) -> float | str:
    if UNITS[key] is _STATES:
        return text.lower()
    if key == "termination" and text.lower() in _OPEN:
        return "open"
    if text.lower() in {"nan", "inf", "-inf"}:
        raise UsageError(f"--measured: {key}={text} is not possible", remedy=_such(key))
    found = _NUMBER.fullmatch(text)
    if found is None:
        raise UsageError(f"--measured: {key}={text} is not a number", remedy=_such(key))
    if _GROUPED.match(text):
        clear = text.replace(",", "."), text.replace(",", "", 1)
        raise UsageError(f"--measured: {key}={text} can be read in two ways", remedy=" or ".join(clear))
    sign, number, power, unit = found.groups(default="")
    unit = re.sub("ohms?$", "Ω", unit, flags=re.IGNORECASE).replace("K", "k").replace("v", "V")
    scale = UNITS[key].get(unit)
    if scale is None:
        known = ", ".join(name for name in UNITS[key] if name)
        raise UsageError(f"--measured: {key}={text} has an unknown unit", remedy=f"one of {known}, or none")
    return float(Decimal(sign + number.replace(",", ".") + power) * Decimal(scale))


def _such(key: str) -> str:
    example = {"termination": "60.4", "stub": "0.8"}.get(key, "2.5")
    return f"such as {key}={example}"
