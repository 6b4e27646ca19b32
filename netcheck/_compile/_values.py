"""Values of a kernel while it is translated, their kinds, and what becomes of two kinds together.

A kind of a number is numpy's name of its type. The kind of an array or a tuple is a tuple that begins with
"array" or "tuple". What numba would do is done where that is exact, and refused where it is not: an int64 and
a uint64 never meet without a cast.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from netcheck.records import dataclass

BITS: Final = {
    "bool": 1,
    **{f"{sign}int{bits}": bits for sign in ("", "u") for bits in (8, 16, 32, 64)},
}  # of integers
LLVM: Final = {"float64": "double", **{kind: f"i{bits}" for kind, bits in BITS.items()}}
NOTHING: Final = ("tuple", (), ())


class UntranslatableError(Exception):
    """What this compiler does not know. Numba runs the kernel then. line: where it stands, once known"""

    line = 0
    is_placed = False


@dataclass(frozen=True)
class Slot:
    """A place of a variable: its address, and the LLVM type of what lies there."""

    address: str
    llvm: str


Reference = str | Slot  # of LLVM's: a register or constant, or the place where it lies


@dataclass(frozen=True)
class Number:
    """A number. literal: its value, where it is written as an integer"""

    kind: str
    at: Reference
    literal: int | None = None


@dataclass(frozen=True)
class ArrayValue:
    """An array: address of the first number, its length along each axis, and whether it may be written."""

    dtype: str
    address: Reference
    shape: tuple[Reference, ...]
    is_writable: bool


@dataclass(frozen=True)
class Group:
    """A tuple. fields: names of its members, or nothing"""

    fields: tuple[str, ...]
    members: tuple[Any, ...]


Value = Number | ArrayValue | Group


def literal(value: int | bool) -> Number:
    """A number that is written in the source."""
    if isinstance(value, bool):
        return Number("bool", "true" if value else "false")
    return Number("int64", str(value), value)


def kind_of(value: Value) -> Any:
    """The kind of a value."""
    if isinstance(value, Number):
        return value.kind
    if isinstance(value, ArrayValue):
        return ("array", value.dtype, len(value.shape), value.is_writable)
    return ("tuple", value.fields, tuple(kind_of(member) for member in value.members))


def leaves(value: Value) -> Iterator[Reference]:
    """The parts of a value that LLVM knows, in order."""
    if isinstance(value, Number):
        yield value.at
    elif isinstance(value, ArrayValue):
        yield value.address
        yield from value.shape
    else:
        for member in value.members:
            yield from leaves(member)


def llvm_of(kind: Any) -> Iterator[str]:
    """The LLVM types of the leaves of a value of a kind."""
    if isinstance(kind, str):
        yield LLVM[kind]
    elif kind[0] == "array":
        yield "ptr"
        yield from ["i64"] * kind[2]
    else:
        for member in kind[2]:
            yield from llvm_of(member)


def value_of(kind: Any, parts: Iterator[Reference]) -> Value:
    """A value of a kind with these leaves."""
    if isinstance(kind, str):
        return Number(kind, next(parts))
    if kind[0] == "array":
        address = next(parts)
        return ArrayValue(kind[1], address, tuple(next(parts) for _ in range(kind[2])), kind[3])
    return Group(kind[1], tuple(value_of(member, parts) for member in kind[2]))


def is_unsigned(kind: str) -> bool:
    """Whether numbers of a kind are integers without a sign."""
    return kind.startswith("u")


def joined(one: Any, other: Any) -> Any:
    """The kind of a variable that holds both."""
    if one == other:
        return one
    if isinstance(one, str) and isinstance(other, str):
        if "bool" in {one, other}:
            raise UntranslatableError(f"{one} and {other} in one variable")
        return together(one, other) if "float64" not in {one, other} else _refused(one, other)
    if "array" == one[0] == other[0] and one[:3] == other[:3]:
        return (*one[:3], False)
    if "tuple" == one[0] == other[0] and len(one[2]) == len(other[2]):
        fields = one[1] if one[1] == other[1] else ()
        return ("tuple", fields, tuple(joined(*pair) for pair in zip(one[2], other[2], strict=True)))
    return _refused(one, other)


def together(one: str, other: str) -> str:
    """The kind that two numbers have in arithmetic and comparisons."""
    kinds = {one, other}
    if "float64" in kinds:
        return "float64"
    unsigned = [kind for kind in kinds if is_unsigned(kind)]
    if len(unsigned) == len(kinds):
        return "uint64"
    if "uint64" in kinds:
        return str(_refused(one, other))
    return "int64"


def _refused(one: Any, other: Any) -> Any:
    raise UntranslatableError(f"{one} and {other} do not go together without a cast")
