"""Listening for a moment: frames of an open interface into a log, which is then looked at like any other."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from netcheck.capture.live import OpenBus

_LOOK: Final = 0.05  # s between two looks at the clock


def listen(
    opened: OpenBus,
    log: Path,
    *,
    channel: str,
    seconds: float,
    wait: float,
    clock: Callable[[], float] = time.monotonic,
) -> Path | None:
    """Write frames to ``log``, ``seconds`` from the first one on; None if none came within ``wait`` seconds.

    Nothing is sent. The interface is closed at the end. Raises InputError when it fails meanwhile, or the
    log cannot be written.
    """
    from netcheck.capture.live import LiveCapture, LogFile

    with LiveCapture(opened, channel) as live:
        live.keep(LogFile(log))
        began = clock()
        first: float | None = None
        while not live.has_ended:
            now = clock()
            if first is None and live.frames:
                first = now
            if now - began > wait and first is None:
                break
            if first is not None and now - first > seconds:
                break
            time.sleep(_LOOK)
    if live.fault is not None:
        raise live.fault.error
    return log if live.frames else None
