"""What kernels are declared to take: numbers, arrays and tuples of them."""

from __future__ import annotations

from typing import Any

from netcheck.records import dataclass


@dataclass(frozen=True)
class ArrayType:
    """A contiguous array of numbers.

    dtype: numpy's name of the type of a number
    """

    dtype: str
    dimensions: int
    is_writable: bool


@dataclass(frozen=True)
class TupleType:
    """A tuple, or a named tuple of a class.

    kind: the class; ``tuple`` for one without names
    """

    kind: type[tuple[Any, ...]]
    members: tuple[Any, ...]

    @property
    def fields(self) -> tuple[str, ...]:
        """Names of the members; none where they have none."""
        return tuple(getattr(self.kind, "_fields", ()))


@dataclass(frozen=True)
class Signature:
    """What a kernel takes and gives.

    takes: per argument "int64", "float64", an ``ArrayType`` or a ``TupleType``
    gives: what it returns: nothing, "int64" or "float64", or several of one of them, as a tuple
    """

    takes: tuple[Any, ...]
    gives: tuple[str, ...]


def packed(declared: Any) -> Any:
    """A declared type as ``MachineCode.arguments`` writes it."""
    if isinstance(declared, TupleType):
        return [packed(member) for member in declared.members]
    if isinstance(declared, ArrayType):
        return {
            "dtype": declared.dtype,
            "dimensions": declared.dimensions,
            "writable": declared.is_writable,
        }
    return declared
