"""How kernels are written and compiled. Importing this module imports numba: see ``netcheck._compile``.

A kernel is a function over arrays and numbers (and tuples of them) with ``@cached_kernel(signature)``;
what only kernels call has ``@kernel_helper``. Kernels allocate nothing.
"""

from __future__ import annotations

import ast
from collections.abc import Callable, Iterator
from functools import cached_property
from importlib import import_module
from pathlib import Path
from typing import Any, Final, TypeVar, cast, get_args, get_type_hints

import llvmlite.binding as llvm  # type: ignore[import-untyped]
import numba
import numpy as np
from numba import types

from netcheck._compile._kernels import CompiledModule, MachineCode, kernels, source_digest, target_machine

_Function = TypeVar("_Function", bound=Callable[..., Any])
_njit: Any = numba.njit
_ROOT: Final = Path(__file__).parent.parent  # the package
_LOADABLE: Final = {"memcpy", "memmove", "memset"}  # what code may call that is not in it

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
    return cast("Any", types.NamedTuple)(members, kind)


def columns_of(kind: Any, *, is_read_only: bool = False) -> Any:
    """Numba's type of a named tuple of arrays with one axis, whose annotations say of what."""
    dtypes = [get_args(get_args(hint)[1])[0] for hint in get_type_hints(kind).values()]
    arrays = [types.Array(numba.from_dtype(np.dtype(dtype)), 1, "C", is_read_only) for dtype in dtypes]
    return tuple_of(kind, *arrays)


# Functions that only kernels call need no door to Python and count no references: a third less to compile.
kernel_helper = cast(
    "Callable[[_Function], _Function]",
    _njit(nogil=True, no_cpython_wrapper=True, no_cfunc_wrapper=True, _nrt=False),
)


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


class Kernel:
    """A kernel as written, for one signature."""

    def __init__(self, function: Callable[..., Any], signature: Any) -> None:
        self.function = function
        self.signature = signature
        self.__name__ = function.__name__
        self.__doc__ = function.__doc__

    def __call__(self, *arguments: Any) -> Any:
        """Run it; compiled for all kernels of its module, if it was not before."""
        return getattr(kernels(self.function.__module__), self.__name__)(*arguments)

    @cached_property
    def by_numba(self) -> Any:
        """Compiled and kept by numba; for processors and systems whose code cannot be kept here."""
        try:
            return _njit(self.signature, nogil=True, cache=True, _nrt=False)(self.function)
        except (RuntimeError, OSError):  # no folder can be written to, or the disk is full
            return _njit(self.signature, nogil=True, _nrt=False)(self.function)

    def code(self, machine: Any) -> MachineCode | None:
        """Machine code that needs nothing of numba's; None when this kernel does need it."""
        compile_plain = _njit(
            self.signature, nogil=True, _nrt=False, no_cpython_wrapper=True, no_cfunc_wrapper=True
        )
        dispatcher = compile_plain(self.function)
        (overload,) = dispatcher.overloads.values()
        module = llvm.parse_assembly(overload.library.get_llvm_str())
        symbol = overload.fndesc.llvm_func_name
        kinds = [_kind(argument) for argument in overload.signature.args]
        gives = _results(overload.signature.return_type)
        if None in kinds or gives is None:
            return None
        outside = {
            entry.name
            for entry in (*module.functions, *module.global_variables)
            if entry.is_declaration and not entry.name.startswith("llvm.")
        }
        taken = list(module.get_function(symbol).arguments)
        if outside - _LOADABLE or len(taken) != 2 + sum(map(_width, kinds)):
            return None
        return MachineCode(symbol, kinds, gives, machine.emit_object(module))


def cached_kernel(signature: Any) -> Callable[[_Function], _Function]:
    """A kernel of one signature, which gives nothing, an int64, a float64, or a tuple of either."""

    def written(function: _Function) -> _Function:
        return cast("_Function", Kernel(function, signature))

    return written


def compiled(module: str) -> CompiledModule:
    """All kernels of a module that can be run without numba, as machine code."""
    machine = target_machine()
    written = {
        name: value for name, value in vars(import_module(module)).items() if isinstance(value, Kernel)
    }
    codes = {name: kernel.code(machine) for name, kernel in written.items()}
    sources = {path: source_digest(path) for path in sorted(sources_of(module))}
    return CompiledModule(sources, {name: code for name, code in codes.items() if code is not None})


def _kind(argument: Any) -> Any:
    """A numba type as ``MachineCode`` writes it; None for one that it has no word for."""
    if isinstance(argument, types.Array):
        if argument.layout != "C" or not argument.aligned:
            return None
        return {
            "dtype": str(argument.dtype) if argument.dtype != types.boolean else "bool",
            "dimensions": argument.ndim,
            "writable": argument.mutable,
        }
    if isinstance(argument, types.BaseTuple):
        members = [_kind(member) for member in cast("Any", argument).types]
        return None if None in members else members
    return str(argument) if argument in (types.int64, types.float64) else None


def _results(given: Any) -> list[str] | None:
    """What a kernel gives, as ``MachineCode`` writes it; None if it has no word for that."""
    if given == types.none:
        return []
    members = [given.dtype] * given.count if isinstance(given, types.UniTuple) else [given]
    return [str(given) for given in members] if members[0] in (types.int64, types.float64) else None


def _width(kind: Any) -> int:
    """How many values stand for an argument."""
    if isinstance(kind, list):
        return sum(map(_width, kind))
    return 5 + 2 * int(kind["dimensions"]) if isinstance(kind, dict) else 1


# -- what a kernel was made from


def sources_of(module: str) -> set[str]:
    """Paths, in the package, of the files of a module and of all that it takes from other modules."""
    found: set[str] = set()
    waiting = [module]
    while waiting:
        name = waiting.pop()
        path = Path(str(import_module(name).__file__)).relative_to(_ROOT).as_posix()
        if path not in found:
            found.add(path)
            waiting += _taken_from(name)
    return found


def _taken_from(module: str) -> Iterator[str]:
    """Modules of the package that a module takes names from: those where they are defined."""
    for entry in ast.walk(ast.parse(Path(str(import_module(module).__file__)).read_bytes())):
        if isinstance(entry, ast.ImportFrom) and (entry.module or "").split(".")[0] == "netcheck":
            for name in entry.names:
                yield _origin(str(entry.module), name.name)


def _origin(module: str, name: str) -> str:
    imported = import_module(module)
    path = Path(str(imported.__file__))
    if isinstance(value := getattr(imported, name, None), type(ast)):
        return value.__name__
    if path.name == "__init__.py":
        for entry in ast.walk(ast.parse(path.read_bytes())):
            if isinstance(entry, ast.ImportFrom) and name in {alias.name for alias in entry.names}:
                return str(entry.module)
    return module
