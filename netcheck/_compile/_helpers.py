"""Functions that only kernels call. This module knows neither numba nor LLVM's library."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from netcheck.records import dataclass


@dataclass(frozen=True, eq=False)
class Helper:
    """A function that only kernels call, compiled when one does.

    is_inlined: it is put in the place of each call
    """

    function: Callable[..., Any]
    is_inlined: bool = False

    def __call__(self, *arguments: Any) -> Any:
        """As plain Python."""
        return self.function(*arguments)

    # -- what numba asks of a function that may stand in the place of its call

    @property
    def targetoptions(self) -> dict[str, str]:
        """How it is to be compiled."""
        return {"inline": "always"} if self.is_inlined else {}

    @property
    def py_func(self) -> Callable[..., Any]:
        """The function itself."""
        return self.function


@dataclass(frozen=True, eq=False)
class Primitive:
    """What a kernel says in one word and LLVM in few.

    takes: kind of each argument; an array of bytes is "array"
    gives: kind of the result, "" for nothing
    function: the same in Python
    lines: LLVM instructions. {0}, {1} … are the parts of the arguments, an array its address and its length;
           {made} is the result of the line before
    """

    name: str
    takes: tuple[str, ...]
    gives: str
    lines: tuple[str, ...]
    function: Callable[..., Any]

    def __call__(self, *arguments: Any) -> Any:
        """As plain Python."""
        return self.function(*arguments)
