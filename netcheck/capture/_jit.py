"""How the kernels of this room are compiled."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar, cast

import numba
import numpy as np
from numpy.typing import NDArray

Text = NDArray[np.uint8]
Cells = NDArray[np.int64]
Words = NDArray[np.uint64]

_Function = TypeVar("_Function", bound=Callable[..., Any])
_njit: Any = numba.njit

# Functions that only kernels call need no door to Python and count no references: a third less to compile.
inner = cast(
    "Callable[[_Function], _Function]",
    _njit(nogil=True, no_cpython_wrapper=True, no_cfunc_wrapper=True, _nrt=False),
)


def kept(signature: Any) -> Callable[[_Function], _Function]:
    """Compiled for one signature, kept on disk where that can be, and run without the interpreter lock."""

    def compiled(function: _Function) -> _Function:
        try:
            return cast("_Function", _njit(signature, nogil=True, cache=True, _nrt=False)(function))
        except (RuntimeError, OSError):  # no folder can be written to, or the disk is full
            return cast("_Function", _njit(signature, nogil=True, _nrt=False)(function))

    return compiled
