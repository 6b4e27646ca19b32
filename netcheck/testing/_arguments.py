"""What assertions are given, checked in one line: a wrong type is the test's fault, not the vehicle's."""

from __future__ import annotations

import math
from numbers import Integral, Real
from typing import Any, Final

from netcheck.errors import UsageError

_MOST_ID: Final = 0x1FFFFFFF
_LONGEST: Final = 40  # characters of a value that is named


def instance(name: str, value: Any, kind: type, remedy: str) -> None:
    """Raises UsageError where a value is not of a kind."""
    __tracebackhide__ = True
    if not isinstance(value, kind):
        raise UsageError(f"{name} is {_named(value)}, not a {kind.__name__}", remedy=remedy)


def text(name: str, value: Any, remedy: str) -> None:
    """Raises UsageError where a value is neither a text nor None."""
    __tracebackhide__ = True
    if value is not None and not isinstance(value, str):
        raise UsageError(f"{name} is {_named(value)}, not a text", remedy=remedy)


def number(name: str, value: Any, unit: str, *, least: float = -math.inf, above: float = -math.inf) -> None:
    """Raises UsageError where a value is no finite number, below ``least`` or not above ``above``."""
    __tracebackhide__ = True
    if not is_number(value):
        raise UsageError(f"{name} is {_named(value)}, not a number", remedy=f"in {unit}")
    if not math.isfinite(value):
        raise UsageError(f"{name} is {value:g}, not a finite number", remedy=f"in {unit}")
    if value < least:
        raise UsageError(f"{name} is {value:g}, below {least:g}", remedy=f"in {unit}")
    if value <= above:
        raise UsageError(f"{name} is {value:g}, not above {above:g}", remedy=f"in {unit}")


def is_number(value: Any) -> bool:
    """Whether it is one, also numpy's; a truth value counts as 0 or 1."""
    return isinstance(value, Real)


def wanted_value(name: str, value: Any) -> None:
    """Raises UsageError for what is neither a label, a number nor (low, high), and for an empty interval."""
    __tracebackhide__ = True
    remedy = "give a label, a number or (low, high)"
    if isinstance(value, str):
        return
    if isinstance(value, tuple | list):
        if len(value) != 2 or not all(map(is_number, value)):
            raise UsageError(f"{name} is {_named(value)}, not (low, high)", remedy=remedy)
        low, high = value
        if not low <= high:  # NaN is below nothing
            raise UsageError(
                f"{name} is ({low:g}, {high:g}), an empty interval", remedy="the lower end first"
            )
        return
    if not is_number(value) or math.isnan(value):
        raise UsageError(f"{name} is {_named(value)}", remedy=remedy)


def identifier(name: str, value: Any) -> int:
    """An id. Raises UsageError for what is none."""
    __tracebackhide__ = True
    remedy = "give an id such as 0x123, a message of a database, or its name with database="
    if isinstance(value, bool) or not isinstance(value, Integral):
        raise UsageError(f"{name} is {_named(value)}, neither an id nor a message", remedy=remedy)
    found = int(value)
    if not 0 <= found <= _MOST_ID:
        raise UsageError(f"{name} is {found}, no id of 11 or 29 bits", remedy=remedy)
    return found


def _named(value: Any) -> str:
    """``'4' (str)``, short."""
    shown = repr(value)
    if len(shown) > _LONGEST or "\n" in shown:
        return f"of type {type(value).__name__}"
    return f"{shown} ({type(value).__name__})"
