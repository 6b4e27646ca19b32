"""When the frames of a capture are due, whatever its clock did."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

_STEP_NS: Final = 100_000_000  # a frame so far behind is no late entry of a buffer: the clock was set back
_AT_ONCE: Final = 4096  # frames looked at together, so that many steps back do not cost the square of frames


class Deadlines:
    """Deadlines in ns from the first frame, taken chunk by chunk; they never go back.

    A frame that stands in the file a little behind its time, as where two channels were written in turn, goes
    right behind the one before it and moves nothing. A clock that was set back by 0.1 s or more goes on from
    where it was.

    latest_ns: the last deadline so far
    """

    def __init__(self) -> None:
        self.latest_ns = 0
        self._start: int | None = None

    def of(self, time_ns: NDArray[np.int64]) -> NDArray[np.int64]:
        """int64[n]: deadlines of the next frames."""
        due = np.empty(len(time_ns), np.int64)
        at = 0
        while at < len(time_ns):
            ahead = time_ns[at : at + _AT_ONCE]
            if self._start is None:
                self._start = int(ahead[0])
            own = ahead - self._start
            latest = np.maximum.accumulate(np.maximum(own, self.latest_ns))
            back = np.flatnonzero(latest - own >= _STEP_NS)
            stop = int(back[0]) if len(back) else len(own)
            due[at : at + stop] = latest[:stop]
            self.latest_ns = int(latest[stop - 1]) if stop else self.latest_ns
            if len(back):
                self._start = int(ahead[stop]) - self.latest_ns
            at += stop
        return due
