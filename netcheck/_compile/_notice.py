"""Who wants to know why a call takes long. The command line tells the person who waits."""

from __future__ import annotations

from collections.abc import Callable

compiling: list[Callable[[], object]] = []  # called before kernels are compiled, which takes seconds
