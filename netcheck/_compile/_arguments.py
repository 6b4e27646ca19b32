"""What a kernel is called with: checked, and taken apart into the values that stand for it.

Kinds of arguments are those of ``MachineCode.arguments``.
"""

from __future__ import annotations

import ctypes
from collections.abc import Callable, Iterator
from functools import cache
from operator import index
from typing import Any, Final

NUMBERS: Final[dict[str, Any]] = {"int64": ctypes.c_int64, "float64": ctypes.c_double}
_END: Final = 1 << 63  # of an int64

Checked = Callable[[tuple[Any, ...]], list[Any]]
_Step = Callable[[Any, list[Any]], None]  # checks one argument and appends what stands for it


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


def checker(name: str, kinds: list[Any]) -> Checked:
    """What makes of all arguments of a kernel the values that stand for them, and refuses others.

    An array is its address and its length along each axis. A tuple is its members.

    It raises TypeError where the kernel ``name`` takes something else, and OverflowError for integers over
    64 bits.
    """
    step = _tuple_step(kinds, f"{name} takes {len(kinds)} arguments", name)

    def checked(arguments: tuple[Any, ...]) -> list[Any]:
        values: list[Any] = []
        step(arguments, values)
        return values

    return checked


def _step(name: str, kind: Any) -> _Step:
    if isinstance(kind, list):
        return _tuple_step(kind, f"{name} takes a tuple of {len(kind)}", name)
    if isinstance(kind, dict):
        return _array_step(name, kind)
    return _integer_step(name) if kind == "int64" else _float_step


def _tuple_step(kinds: list[Any], told: str, name: str) -> _Step:
    steps = [_step(name, kind) for kind in kinds]

    def take(members: Any, values: list[Any]) -> None:
        if len(members) != len(steps):
            raise TypeError(f"{told}, not {len(members)}")
        for step, member in zip(steps, members, strict=True):
            step(member, values)

    return take


def _array_step(name: str, kind: Any) -> _Step:
    import numpy as np

    dtype, dimensions, is_writable = np.dtype(kind["dtype"]), kind["dimensions"], kind["writable"]
    address = _address_finder()

    def take(array: Any, values: list[Any]) -> None:
        flags = array.flags
        if (
            array.dtype != dtype
            or array.ndim != dimensions
            or not (flags.c_contiguous and flags.aligned and (flags.writeable or not is_writable))
        ):
            raise TypeError(f"{name} takes an array of {kind}, not {array.dtype} {array.shape} {flags}")
        values.append(address(array))
        values.extend(array.shape)

    return take


def _integer_step(name: str) -> _Step:
    def take(number: Any, values: list[Any]) -> None:
        whole = index(number)
        if not -_END <= whole < _END:
            raise OverflowError(f"{name} takes 64-bit integers, not {whole}")
        values.append(whole)

    return take


def _float_step(number: Any, values: list[Any]) -> None:
    values.append(number)


@cache
def _address_finder() -> Callable[[Any], int]:
    """What gives the address of an array's data.

    numpy's own way, ``__array_interface__``, takes longer than all other checks of a call. An array begins
    with the head of every object, and the address comes next (numpy's C API, ``PyArrayObject``). It is read
    from there, if a trial shows that this holds.
    """
    import numpy as np

    head, number_at = object.__basicsize__, ctypes.c_size_t.from_address

    def in_object(array: Any) -> int:
        return number_at(id(array) + head).value

    trials = [np.zeros((2, 3)), np.zeros(5, np.uint8)[2:], np.zeros(0, np.int32)]
    return in_object if [*map(in_object, trials)] == [*map(told_address, trials)] else told_address


def told_address(array: Any) -> int:
    """The address of an array's data, as numpy tells it."""
    address: int = array.__array_interface__["data"][0]
    return address
