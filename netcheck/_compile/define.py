"""How kernels are written.

A kernel is a function over arrays and numbers (and tuples of them) with ``@cached_kernel(…, gives=…)``; what
only kernels call has ``@kernel_helper``, or ``@inlined_helper`` where it is to be put in the place of each
call. Kernels allocate nothing. What they may say is what ``_expressions`` and ``_statements`` know.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final, TypeVar, cast, get_args, get_type_hints

import numpy as np

from netcheck._compile._helpers import Helper, Primitive
from netcheck._compile._types import ArrayType, Signature, TupleType
from netcheck.records import dataclass

Column = Any  # an array of the type that the kernel's signature says
_Function = TypeVar("_Function", bound=Callable[..., Any])
_PLACE: Final = "getelementptr i8, ptr {0}, i64 {2}"


def array(dtype: Any, dimensions: int = 1) -> Any:
    """The type of a contiguous array that a kernel writes to."""
    return ArrayType(np.dtype(dtype).name, dimensions, is_writable=True)


def read_only(dtype: Any, dimensions: int = 1) -> Any:
    """The type of an array that a kernel only reads; it takes one that may be written, too."""
    return ArrayType(np.dtype(dtype).name, dimensions, is_writable=False)


INT64: Final = "int64"
FLOAT64: Final = "float64"
U8: Final = read_only(np.uint8)
U32: Final = read_only(np.uint32)
I32: Final = read_only(np.int32)
I64: Final = read_only(np.int64)
GRID: Final = array(np.int64, 2)
ROW: Final = array(np.int64)


def tuple_of(kind: Any, *members: Any) -> Any:
    """The type of a tuple of a class, or a plain ``tuple``, with members of these types."""
    return TupleType(kind, members)


def columns_of(kind: Any, *, is_read_only: bool = False) -> Any:
    """The type of a named tuple of arrays with one axis, whose annotations say of what."""
    dtypes = [get_args(get_args(hint)[1])[0] for hint in get_type_hints(kind).values()]
    return tuple_of(kind, *((read_only if is_read_only else array)(dtype) for dtype in dtypes))


def kernel_helper(function: _Function) -> _Function:
    """A function that only kernels call, compiled when one does."""
    return cast("_Function", Helper(function))


def inlined_helper(function: _Function) -> _Function:
    """The same, put in the place of each call: for what is done for each frame."""
    return cast("_Function", Helper(function, is_inlined=True))


def _word_at(data: Any, index: int) -> Any:
    return np.uint64(int.from_bytes(data[index : index + 8].tobytes(), "little"))


def _put_word(data: Any, index: int, word: Any) -> None:
    data[index : index + 8] = np.frombuffer(int(word).to_bytes(8, "little"), np.uint8)


def _swapped(word: Any) -> Any:
    return np.uint64(int.from_bytes(int(word).to_bytes(8, "little"), "big"))


def _zeros_below(word: Any) -> Any:
    return np.int64((int(word) & -int(word)).bit_length() - 1 if word else 64)


def _zeros_above(word: Any) -> Any:
    return np.int64(64 - int(word).bit_length())


word_at: Final[Any] = Primitive(  # data[index : index + 8] as a little-endian uint64; no bounds are checked
    name="word_at",
    takes=("array", "int64"),
    gives="uint64",
    lines=(_PLACE, "load i64, ptr {made}, align 1"),
    function=_word_at,
)
put_word: Final[Any] = Primitive(  # the opposite: array, index, word
    name="put_word",
    takes=("array", "int64", "uint64"),
    gives="",
    lines=(_PLACE, "store i64 {3}, ptr {made}, align 1"),
    function=_put_word,
)
swapped: Final[Any] = Primitive(  # a uint64 with its bytes in the opposite order
    name="swapped",
    takes=("uint64",),
    gives="uint64",
    lines=("call i64 @llvm.bswap.i64(i64 {0})",),
    function=_swapped,
)
zeros_below: Final[Any] = Primitive(  # how many zero bits stand below the lowest one bit; 64 for the word 0
    name="zeros_below",
    takes=("uint64",),
    gives="int64",
    lines=("call i64 @llvm.cttz.i64(i64 {0}, i1 false)",),
    function=_zeros_below,
)
zeros_above: Final[Any] = Primitive(  # how many zero bits stand above the highest one bit; 64 for the word 0
    name="zeros_above",
    takes=("uint64",),
    gives="int64",
    lines=("call i64 @llvm.ctlz.i64(i64 {0}, i1 false)",),
    function=_zeros_above,
)


@inlined_helper
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
    signature: Signature


def cached_kernel(*takes: Any, gives: Any = ()) -> Callable[[Callable[..., Any]], Kernel]:
    """A kernel that takes these types, and gives nothing, an int64, a float64, or several of either."""

    def written(function: Callable[..., Any]) -> Kernel:
        return Kernel(function, Signature(takes, (gives,) if isinstance(gives, str) else tuple(gives)))

    return written
