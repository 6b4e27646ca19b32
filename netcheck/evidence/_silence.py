"""When a network was silent while it was recorded."""

from __future__ import annotations

from typing import Final

import numpy as np

from netcheck.capture import ERROR, Capture
from netcheck.records import dataclass

# Our own rule of thumb, in ns. Few networks that are awake are silent for a second.
SILENT_NS: Final = 3_000_000_000


@dataclass(frozen=True)
class Silence:
    """Time without a frame other than error frames, in ns of the log."""

    first_ns: int
    last_ns: int


class SilenceWatch:
    """Follows the frames chunk by chunk. silences: those that are over, in order of time."""

    def __init__(self) -> None:
        self._found: list[Silence] = []
        self._last_ns: int | None = None

    @property
    def last_ns(self) -> int | None:
        """The time of the latest frame; None before the first."""
        return self._last_ns

    def take(self, chunk: Capture) -> None:
        """Frames that came."""
        times = chunk.time_ns[(chunk.flags & ERROR) == 0]
        if not len(times):
            return
        before = [] if self._last_ns is None else [self._last_ns]
        latest = np.maximum.accumulate(np.concatenate([np.array(before, np.int64), times]))
        for index in np.flatnonzero(np.diff(latest) >= SILENT_NS).tolist():
            self._found.append(Silence(int(latest[index]), int(latest[index + 1])))
        self._last_ns = int(latest[-1])

    def until(self, now_ns: int) -> tuple[Silence, ...]:
        """All silences, with one that is still going on at ``now_ns``."""
        if self._last_ns is None or now_ns - self._last_ns < SILENT_NS:
            return tuple(self._found)
        return (*self._found, Silence(self._last_ns, now_ns))
