"""Who wants to know why a call takes long. The command line tells the person who waits."""

from __future__ import annotations

from collections.abc import Callable

# Called before kernels are compiled, which takes seconds, with whether the result can be kept.
compiling: list[Callable[[bool], object]] = []
