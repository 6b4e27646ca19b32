"""Listening for a moment: frames of an open interface into a log, which is then looked at like any other."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from netcheck.capture.live import LiveCapture, OpenBus

_LOOK: Final = 0.05  # s between two looks at the clock


def listen(
    opened: OpenBus,
    log: Path,
    *,
    channel: str,
    seconds: float,
    wait: float,
    clock: Callable[[], float] = time.monotonic,
    tell: Callable[[float, int], None] | None = None,
) -> Path | None:
    """Write frames to ``log``, ``seconds`` from the first one on; None if none came within ``wait`` seconds.

    Nothing is sent. The interface is closed at the end.
    tell: called again and again with the seconds that are left and the frames so far

    An interrupt ends it sooner and keeps what was heard; with nothing heard it is raised. Raises InputError
    when the interface fails meanwhile, or the log cannot be written.
    """
    from netcheck.capture.live import LiveCapture, LogFile

    with LiveCapture(opened, channel) as live:
        live.keep(LogFile(log))
        try:
            _wait(live, seconds, wait, clock, tell)
        except KeyboardInterrupt:
            if not live.frames:
                raise
    if live.fault is not None:
        raise live.fault.error
    return log if live.frames else None


def _wait(
    live: LiveCapture,
    seconds: float,
    wait: float,
    clock: Callable[[], float],
    tell: Callable[[float, int], None] | None,
) -> None:
    """Until it was listened to for long enough."""
    began = clock()
    first: float | None = None
    while not live.has_ended:
        now = clock()
        if first is None and live.frames:
            first = now
        left = wait - (now - began) if first is None else seconds - (now - first)
        if left < 0:
            return
        if tell is not None:
            tell(left, live.frames)
        time.sleep(_LOOK)
