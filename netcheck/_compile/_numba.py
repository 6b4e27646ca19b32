"""Kernels run by numba, where machine code is not used. All that netcheck relies on inside numba is here;
what it relies on in llvmlite is in ``_load``. No other module may know more of them than their documentation
says. pyproject.toml caps both at the versions that this was tried with.

Relied upon:

- ``numba.extending.typeof_impl`` says of what type an object is in a kernel: so a ``Helper`` is the function
  that numba made of it. What is to be put in the place of its call has ``targetoptions`` and ``py_func``.
- ``njit`` takes ``no_cpython_wrapper``, ``no_cfunc_wrapper`` and ``_nrt``: no door to Python, no counting of
  references.
- ``numba.config.CACHE_DIR`` is read when a function with ``cache=True`` is made.
- A named tuple is taken only as declared to the letter: a writable array in it is not taken for a read-only
  one, which numba does take by itself. So arguments are first made what is declared. Two classes of named
  tuples with one name are one class to it; a test of the package holds that no class name comes twice.
- ``numba.extending.intrinsic`` and the data pointer of an array, for the primitives.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any, Final

import numba
import numba.core.cgutils
import numba.extending
import numpy as np
from llvmlite import ir  # type: ignore[import-untyped]
from numba import types

from netcheck._compile._arguments import checker
from netcheck._compile._helpers import Helper, Primitive
from netcheck._compile._types import ArrayType, Signature, TupleType, packed

_njit: Any = numba.njit
_config: Any = numba.config
_intrinsic: Any = numba.extending.intrinsic
_tuple: Any = types.UniTuple
_typeof: Any = numba.typeof
_typeof_impl: Any = numba.extending.typeof_impl
_proxy: Any = numba.core.cgutils.create_struct_proxy
_BARE: Final = {"nogil": True, "no_cpython_wrapper": True, "no_cfunc_wrapper": True, "_nrt": False}
_WORD: Final = ir.IntType(64)


@_typeof_impl.register(Helper)  # type: ignore[untyped-decorator]
def _type_of_helper(helper: Helper, context: Any) -> Any:
    return _typeof(_made_of(helper.function))


@cache
def _made_of(function: Callable[..., Any]) -> Any:
    """What numba makes of a helper. Its type does not keep it, so it is kept here."""
    return _njit(**_BARE)(function)


# -- primitives


@_typeof_impl.register(Primitive)  # type: ignore[untyped-decorator]
def _type_of_primitive(primitive: Primitive, context: Any) -> Any:
    return _typeof(_made_of(_PRIMITIVES[primitive.name]))


def _place(context: Any, builder: Any, kind: Any, array: Any, index: Any) -> Any:
    data = _proxy(kind)(context, builder, array).data
    return builder.bitcast(builder.gep(data, [index]), _WORD.as_pointer())


def _native(builder: Any, word: Any) -> Any:
    return word if sys.byteorder == "little" else builder.bswap(word)


@_intrinsic  # type: ignore[untyped-decorator]
def _word_at(typing: Any, data: Any, index: Any) -> Any:
    def generate(context: Any, builder: Any, signature: Any, values: Any) -> Any:
        place = _place(context, builder, signature.args[0], *values)
        return _native(builder, builder.load(place, align=1))

    return types.uint64(data, types.int64), generate


@_intrinsic  # type: ignore[untyped-decorator]
def _put_word(typing: Any, data: Any, index: Any, word: Any) -> Any:
    def generate(context: Any, builder: Any, signature: Any, values: Any) -> Any:
        place = _place(context, builder, signature.args[0], *values[:2])
        builder.store(_native(builder, values[2]), place, align=1)
        return context.get_dummy_value()

    return types.void(data, types.int64, types.uint64), generate


@_intrinsic  # type: ignore[untyped-decorator]
def _swapped(typing: Any, word: Any) -> Any:
    def generate(context: Any, builder: Any, signature: Any, values: Any) -> Any:
        return builder.bswap(values[0])

    return types.uint64(types.uint64), generate


@_intrinsic  # type: ignore[untyped-decorator]
def _zeros_below(typing: Any, word: Any) -> Any:
    def generate(context: Any, builder: Any, signature: Any, values: Any) -> Any:
        return builder.cttz(values[0], ir.Constant(ir.IntType(1), 0))

    return types.int64(types.uint64), generate


@_intrinsic  # type: ignore[untyped-decorator]
def _zeros_above(typing: Any, word: Any) -> Any:
    def generate(context: Any, builder: Any, signature: Any, values: Any) -> Any:
        return builder.ctlz(values[0], ir.Constant(ir.IntType(1), 0))

    return types.int64(types.uint64), generate


# An intrinsic is a function of its own kind to numba; one that calls it is as good.


def _call_word_at(data: Any, index: Any) -> Any:
    return _word_at(data, index)


def _call_put_word(data: Any, index: Any, word: Any) -> None:
    _put_word(data, index, word)


def _call_swapped(word: Any) -> Any:
    return _swapped(word)


def _call_zeros_below(word: Any) -> Any:
    return _zeros_below(word)


def _call_zeros_above(word: Any) -> Any:
    return _zeros_above(word)


_PRIMITIVES: Final[dict[str, Callable[..., Any]]] = {
    "word_at": _call_word_at,
    "put_word": _call_put_word,
    "swapped": _call_swapped,
    "zeros_below": _call_zeros_below,
    "zeros_above": _call_zeros_above,
}


# -- kernels


def numba_function(
    function: Callable[..., Any], signature: Signature, folder: Path | None
) -> Callable[..., Any]:
    """The function run by numba, with the same checks and the same errors as machine code.

    folder: where numba may keep it; None to keep nothing
    """
    declared = tuple(map(type_of, signature.takes))
    compiled = _compiled(function, _given(signature.gives)(*declared), folder)
    name = function.__name__
    checked = checker(name, [packed(taken) for taken in signature.takes])

    def kernel(*arguments: Any) -> Any:
        checked(arguments)
        given = [_as_declared(*pair) for pair in zip(arguments, signature.takes, strict=True)]
        try:
            return compiled(*given)
        except TypeError:
            raise
        except Exception as error:
            raise RuntimeError(f"{name} failed") from error

    kernel.__name__ = name
    return kernel


def type_of(declared: Any) -> Any:
    """Numba's type of what is declared."""
    if isinstance(declared, ArrayType):
        dtype = numba.from_dtype(np.dtype(declared.dtype))
        return types.Array(dtype, declared.dimensions, "C", readonly=not declared.is_writable)
    if isinstance(declared, TupleType):
        base: Any = types.BaseTuple
        return base.from_types(tuple(map(type_of, declared.members)), declared.kind)
    return getattr(types, declared)


def _given(gives: tuple[str, ...]) -> Any:
    if not gives:
        return types.void
    return getattr(types, gives[0]) if len(gives) == 1 else _tuple(getattr(types, gives[0]), len(gives))


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
    if isinstance(declared, ArrayType) and not declared.is_writable and isinstance(argument, np.ndarray):
        view = argument.view()
        view.flags.writeable = False
        return view
    if isinstance(declared, TupleType):
        members = [_as_declared(*pair) for pair in zip(argument, declared.members, strict=True)]
        return tuple(members) if declared.kind is tuple else declared.kind(*members)
    return argument
