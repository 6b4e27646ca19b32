"""A bar on standard error while a large capture is read, for a person who waits at a terminal."""

from __future__ import annotations

import math
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, Final

LEAST_BYTES: Final = 50_000_000  # a smaller file is read before anybody wonders

Progress = Callable[[str, int, int], None]


@contextmanager
def progress_bar(*, is_shown: bool = True) -> Iterator[Progress | None]:
    """What shows how far it is with a capture: call it with name, bytes done and bytes in all.

    The bar goes when the block ends. None where nobody would see it: without a terminal at standard error,
    or where the result itself runs over that terminal (not ``is_shown``).
    """
    if not is_shown or not sys.stderr.isatty() or os.environ.get("TERM") == "dumb":
        yield None
        return
    bars = _Bars()
    try:
        yield bars.tell
    finally:
        bars.stop()


@contextmanager
def countdown(what: str) -> Iterator[Callable[[float, int], None] | None]:
    """A line on standard error that counts down: call it with the seconds left and the frames so far.

    It has room in 30 columns, and goes when the block ends. None where nobody would see it.
    """
    if not sys.stderr.isatty() or os.environ.get("TERM") == "dumb":
        yield None
        return
    shown = ""

    def tell(left: float, frames: int) -> None:
        nonlocal shown
        text = f"{what}: {math.ceil(left)} s, {frames:,} frames"
        if text != shown:
            sys.stderr.write(f"\r\x1b[K{text}")
            sys.stderr.flush()
            shown = text

    try:
        yield tell
    finally:
        if shown:
            sys.stderr.write("\r\x1b[K")
            sys.stderr.flush()


class _Bars:
    """One line a capture, from its first report on."""

    def __init__(self) -> None:
        self._shown: Any = None
        self._tasks: dict[str, Any] = {}

    def tell(self, name: str, done: int, total: int) -> None:
        """Report of a capture: a bar with rate and time left, if the file is a large one."""
        if total <= LEAST_BYTES:
            return
        if self._shown is None:
            self._shown = _start()
        if name not in self._tasks:
            from netcheck.words import clean

            self._tasks[name] = self._shown.add_task(clean(name), total=total)
        self._shown.update(self._tasks[name], completed=done, refresh=True)

    def stop(self) -> None:
        """Takes the bars from the terminal."""
        if self._shown is not None:
            self._shown.stop()


def _start() -> Any:
    from rich.console import Console
    from rich.progress import (
        BarColumn,
        DownloadColumn,
        Progress,
        TextColumn,
        TimeRemainingColumn,
        TransferSpeedColumn,
    )

    columns = (
        TextColumn("{task.description}", markup=False),
        BarColumn(),
        DownloadColumn(),
        TransferSpeedColumn(),
        TimeRemainingColumn(),
    )
    console = Console(file=sys.stderr)
    # Drawn when a report comes, four times a second: no thread of its own.
    shown = Progress(*columns, console=console, auto_refresh=False, transient=True, redirect_stdout=False)
    shown.start()
    return shown
