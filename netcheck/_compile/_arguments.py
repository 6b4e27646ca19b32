"""What a kernel is called with: checked, and taken apart into the values that stand for it.

Kinds of arguments are those of ``MachineCode.arguments``.
"""

from __future__ import annotations

import ctypes
from collections.abc import Iterator
from operator import index
from typing import Any, Final

NUMBERS: Final[dict[str, Any]] = {"int64": ctypes.c_int64, "float64": ctypes.c_double}
_END: Final = 1 << 63  # of an int64


def ctypes_of(kind: Any) -> Iterator[Any]:
    """The C types of the values that stand for an argument."""
    if isinstance(kind, list):
        for member in kind:
            yield from ctypes_of(member)
    elif isinstance(kind, dict):
        yield ctypes.c_void_p
        yield from [ctypes.c_int64] * kind["dimensions"]
    else:
        yield NUMBERS[kind]


def checked(name: str, arguments: tuple[Any, ...], kinds: list[Any]) -> list[Any]:
    """All arguments as the values that stand for them.

    An array is its address and its length along each axis. A tuple is its members.

    Raises: TypeError where the kernel ``name`` takes something else; OverflowError for integers over 64 bits.
    """
    if len(arguments) != len(kinds):
        raise TypeError(f"{name} takes {len(kinds)} arguments, not {len(arguments)}")
    values: list[Any] = []
    for argument, kind in zip(arguments, kinds, strict=True):
        _take(name, argument, kind, values)
    return values


def _take(name: str, argument: Any, kind: Any, values: list[Any]) -> None:
    """Puts the values of an argument behind those that are there."""
    if isinstance(kind, list):
        if len(argument) != len(kind):
            raise TypeError(f"{name} takes a tuple of {len(kind)}")
        for member, member_kind in zip(argument, kind, strict=True):
            _take(name, member, member_kind, values)
    elif isinstance(kind, dict):
        flags = argument.flags
        if (
            argument.dtype != kind["dtype"]
            or argument.ndim != kind["dimensions"]
            or not (flags.c_contiguous and flags.aligned and (flags.writeable or not kind["writable"]))
        ):
            raise TypeError(f"{name} takes an array of {kind}, not {argument.dtype} {argument.shape} {flags}")
        address, _ = argument.__array_interface__["data"]
        values.append(address)
        values.extend(argument.shape)
    elif kind == "int64":
        number = index(argument)
        if not -_END <= number < _END:
            raise OverflowError(f"{name} takes 64-bit integers, not {number}")
        values.append(number)
    else:
        values.append(argument)
