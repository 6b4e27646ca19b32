"""How kernels are written. Importing this module imports numba: see ``netcheck._compile``.

A kernel is a function over arrays and numbers (and tuples of them) with ``@cached_kernel(signature)``;
what only kernels call has ``@kernel_helper``. Kernels allocate nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final, get_args, get_type_hints

import numba
import numpy as np
from numba import types

from netcheck._compile._numba import helper, named_tuple
from netcheck.records import dataclass

Column = Any  # an array of the type that the kernel's signature says


def read_only(dtype: Any, dimensions: int = 1) -> Any:
    """Numba's type of an array that a kernel only reads; it takes one that may be written, too."""
    return types.Array(dtype, dimensions, "C", readonly=True)


U8: Final = read_only(types.uint8)
U32: Final = read_only(types.uint32)
I32: Final = read_only(types.int32)
I64: Final = read_only(types.int64)


def tuple_of(kind: Any, *members: Any) -> Any:
    """Numba's type of a named tuple with members of these types."""
    return named_tuple(kind, members)


def columns_of(kind: Any, *, is_read_only: bool = False) -> Any:
    """Numba's type of a named tuple of arrays with one axis, whose annotations say of what."""
    dtypes = [get_args(get_args(hint)[1])[0] for hint in get_type_hints(kind).values()]
    arrays = [types.Array(numba.from_dtype(np.dtype(dtype)), 1, "C", is_read_only) for dtype in dtypes]
    return tuple_of(kind, *arrays)


kernel_helper: Final = helper


@kernel_helper
def slot_of(key: Any, table: Column) -> Any:
    """The row of an open-addressed table that has a key, or is free for it.

    table: int64, (a power of two, 2 or more): keys of 0 or more in its first column, -1 in a free row, of
           which there is one. Multiplicative hashing, Knuth 6.4.
    """
    mask = np.int64(len(table) - 1)
    slot = np.int64((np.uint64(key) * np.uint64(0x9E3779B97F4A7C15)) >> np.uint64(32)) & mask
    while table[slot, 0] != key and table[slot, 0] >= 0:
        slot = (slot + 1) & mask
    return slot


@dataclass(frozen=True)
class Kernel:
    """A kernel as written, for one signature. ``netcheck._compile.kernels`` has it compiled, to be called."""

    function: Callable[..., Any]
    signature: Any


def cached_kernel(signature: Any) -> Callable[[Callable[..., Any]], Kernel]:
    """A kernel of one signature, which gives nothing, an int64, a float64, or a tuple of either."""

    def written(function: Callable[..., Any]) -> Kernel:
        return Kernel(function, signature)

    return written
