"""All that netcheck relies on inside numba and llvmlite. No other module may know more of them than their
documentation says. pyproject.toml caps both at the versions that this was tried with.

Relied upon when machine code is made (``machine_code``):

- ``njit`` takes ``no_cpython_wrapper``, ``no_cfunc_wrapper`` and ``_nrt``: no door to Python, no counting of
  references, so that the code calls nothing of numba's.
- ``dispatcher.overloads`` has one entry for the one signature. ``overload.library.get_llvm_str()`` is all
  its code as LLVM text, helpers included; ``overload.fndesc.llvm_func_name`` is the function's name in it.
- numba's own calling convention:
  ``int32 status = function(place for the result, place for an exception, arguments …)``.
  Status 0 is success. An array is given as owner, parent, number and size of its items, address, shape and
  strides; a tuple as its members, one after the other; several results of one type lie side by side.

Checked each time: that the text has the function and its arguments have the types that are passed, that
numba's model of an array has these parts in this order, and that nothing outside is called but what every
C library has. Where a check fails there is no machine code, and numba itself runs the kernel.

Relied upon when numba runs a kernel (``numba_function``):

- ``numba.config.CACHE_DIR`` is read when a function with ``cache=True`` is made.
- A named tuple is taken only as declared to the letter: a writable array in it is not taken for a read-only
  one, which numba does take by itself. So arguments are first made what is declared. Two classes of named
  tuples with one name are one class to it; a test of the package holds that no class name comes twice.
"""

from __future__ import annotations

import ctypes
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final, TypeVar, cast

import llvmlite.binding as llvm  # type: ignore[import-untyped]
import numba
import numpy as np
from numba import types
from numba.core.datamodel import default_manager  # type: ignore[attr-defined]

from netcheck._compile._arguments import checked, ctypes_of
from netcheck._compile._code import MachineCode

_Function = TypeVar("_Function", bound=Callable[..., Any])
_njit: Any = numba.njit
_config: Any = numba.config
_LOADABLE: Final = {"memcpy", "memmove", "memset"}  # what code may call that is not in it
_ARRAY_PARTS: Final = ["meminfo", "parent", "nitems", "itemsize", "data", "shape", "strides"]
_BARE: Final = {"nogil": True, "no_cpython_wrapper": True, "no_cfunc_wrapper": True, "_nrt": False}
_POINTER: Final = "pointer"
_LLVM_TYPES: Final = {ctypes.c_int64: "i64", ctypes.c_double: "double", ctypes.c_void_p: _POINTER}
_RETURNS_STATUS: Final = re.compile(r"^define [^@]*\bi32 @")


def helper(function: _Function) -> _Function:
    """A function that only kernels call, compiled when one does.

    It needs no door to Python and counts no references: a third less to compile.
    """
    return cast("_Function", _njit(**_BARE)(function))


def named_tuple(kind: Any, members: tuple[Any, ...]) -> Any:
    """Numba's type of a named tuple: what it itself would say of one with such members."""
    return cast("Any", types.BaseTuple).from_types(members, kind)


# -- machine code


def machine_code(function: Callable[..., Any], signature: Any, machine: Any) -> MachineCode | None:
    """Machine code that needs nothing of numba's; None when the function does need it.

    machine: llvmlite's, which emits the code
    """
    (overload,) = _njit(signature, **_BARE)(function).overloads.values()
    kinds = kinds_of(overload.signature.args)
    gives = _results(overload.signature.return_type)
    if kinds is None or gives is None:
        return None
    module = llvm.parse_assembly(overload.library.get_llvm_str())
    symbol = overload.fndesc.llvm_func_name
    if not _is_called_as_expected(module.get_function(symbol), kinds):
        return None
    if not all(_has_the_parts(kind) for kind in overload.signature.args):
        return None
    outside = {
        entry.name
        for entry in (*module.functions, *module.global_variables)
        if entry.is_declaration and not entry.name.startswith("llvm.")
    }
    if outside - _LOADABLE:
        return None
    return MachineCode(symbol, kinds, gives, machine.emit_object(module))


def kinds_of(declared: tuple[Any, ...]) -> list[Any] | None:
    """Numba's types of arguments as ``MachineCode`` writes them; None where it has no word for one."""
    kinds = [_kind(argument) for argument in declared]
    return None if None in kinds else kinds


def _kind(declared: Any) -> Any:
    if isinstance(declared, types.Array):
        if declared.layout != "C" or not declared.aligned:
            return None
        return {
            "dtype": str(declared.dtype) if declared.dtype != types.boolean else "bool",
            "dimensions": declared.ndim,
            "writable": declared.mutable,
        }
    if isinstance(declared, types.BaseTuple):
        return kinds_of(tuple(cast("Any", declared).types))
    return str(declared) if declared in (types.int64, types.float64) else None


def _results(given: Any) -> list[str] | None:
    """What a kernel gives, as ``MachineCode`` writes it; None if it has no word for that."""
    if given == types.none:
        return []
    members = [given.dtype] * given.count if isinstance(given, types.UniTuple) else [given]
    return [str(given) for given in members] if members[0] in (types.int64, types.float64) else None


def _is_called_as_expected(function: Any, kinds: list[Any]) -> bool:
    """Whether an LLVM function takes two places and the values for arguments of these kinds."""
    passed = [_LLVM_TYPES[kind] for argument in kinds for kind in ctypes_of(argument)]
    taken = [_POINTER if taken.type.is_pointer else str(taken.type) for taken in function.arguments]
    (head,) = [line for line in str(function).splitlines() if line.startswith("define ")]
    return taken == [_POINTER, _POINTER, *passed] and _RETURNS_STATUS.match(head) is not None


def _has_the_parts(declared: Any) -> bool:
    """Whether arrays are, for numba, made of the parts that stand for one here, in their order."""
    if isinstance(declared, types.BaseTuple):
        return all(_has_the_parts(member) for member in cast("Any", declared).types)
    if not isinstance(declared, types.Array):
        return True
    model = cast("Any", default_manager).lookup(declared)
    return model.field_count == len(_ARRAY_PARTS) and [
        model.get_field_position(part) for part in _ARRAY_PARTS
    ] == list(range(len(_ARRAY_PARTS)))


# -- run by numba


def numba_function(function: Callable[..., Any], signature: Any, folder: Path | None) -> Callable[..., Any]:
    """The function run by numba, with the same checks and the same errors as machine code.

    folder: where numba may keep it; None to keep nothing
    """
    compiled = _compiled(function, signature, folder)
    declared = tuple(signature.args)
    kinds = kinds_of(declared)
    name = function.__name__

    def kernel(*arguments: Any) -> Any:
        if kinds is not None:
            checked(name, arguments, kinds)
        given = [_as_declared(*pair) for pair in zip(arguments, declared, strict=True)]
        try:
            return compiled(*given)
        except TypeError:
            raise
        except Exception as error:
            raise RuntimeError(f"{name} failed") from error

    kernel.__name__ = name
    return kernel


def _compiled(function: Callable[..., Any], signature: Any, folder: Path | None) -> Any:
    if folder is not None:
        before = _config.CACHE_DIR
        _config.CACHE_DIR = str(folder)
        try:
            return _njit(signature, nogil=True, cache=True, _nrt=False)(function)
        except (RuntimeError, OSError):  # the disk is full, or another process has removed the folder
            pass
        finally:
            _config.CACHE_DIR = before
    return _njit(signature, nogil=True, _nrt=False)(function)


def _as_declared(argument: Any, declared: Any) -> Any:
    """The argument with the very type that the kernel declares."""
    if isinstance(declared, types.Array) and not declared.mutable and isinstance(argument, np.ndarray):
        view = argument.view()
        view.flags.writeable = False
        return view
    if isinstance(declared, types.BaseTuple):
        pairs = zip(argument, cast("Any", declared).types, strict=True)
        members = [_as_declared(*pair) for pair in pairs]
        kind = getattr(declared, "instance_class", tuple)
        return tuple(members) if kind is tuple else kind(*members)
    return argument
