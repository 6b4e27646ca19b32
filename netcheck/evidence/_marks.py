"""How a role followed the marks of a person with a watch, one bundle of frames after another.

At a time between frames a role has the value of its last valid frame of that awake period. So of each mark
only the moments are kept at which the role entered or left the marked state, and the silences in it.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck.evidence._gaps import Breaks
from netcheck.evidence._observation import MarkSeen, Outside
from netcheck.evidence._window import MOST_GAP_NS, REACTION_NS, Window
from netcheck.network import SILENCE_NS

_LONG_BEFORE: Final = -(1 << 62)
LEAST_NS: Final = 200_000_000  # of a mark that is left to judge; a shorter one is answered by a single frame


class MarkMeter:
    """One mark of one signal on one channel. Times in ns from the capture's first frame."""

    def __init__(self, window: Window) -> None:
        self._window = window
        self._begin = window.from_ns - REACTION_NS
        self._end = window.to_ns + REACTION_NS + MOST_GAP_NS
        inner = window.from_ns + REACTION_NS, window.to_ns - REACTION_NS
        is_long = inner[1] - inner[0] >= LEAST_NS
        self._inner = inner if is_long else (self._begin, window.to_ns + REACTION_NS)  # what is counted
        self._before: tuple[bool, int] | None = None  # state and awake period of the last valid frame before
        self._awake = 0  # number of the awake period in which the mark begins
        self._changes: list[tuple[int, bool]] = []  # time, and whether it has the state from there on
        self._silences: list[tuple[int, int]] = []  # within the mark's reach
        self._valid = self._in_state = 0

    def add(
        self,
        time_ns: NDArray[np.int64],
        awake: NDArray[np.int32],
        raw: NDArray[np.generic],
        value: NDArray[np.float64],
    ) -> None:
        """Take valid frames of a bundle, with the number of the awake period of each."""
        near = (time_ns >= self._begin) & (time_ns <= self._end)
        earlier = np.flatnonzero(time_ns < self._begin)
        if len(earlier):
            last = earlier[-1:]
            state = self._window.in_state(raw[last], value[last])
            self._before = bool(state[0]), int(awake[last[0]])
        if not near.any():
            return
        time_ns, state = time_ns[near], self._window.in_state(raw[near], value[near])
        inside = (time_ns >= self._inner[0]) & (time_ns <= self._inner[1])
        self._valid += int(np.count_nonzero(inside))
        self._in_state += int(np.count_nonzero(inside & state))
        periods = awake[near]
        borders = np.flatnonzero((np.diff(state) != 0) | (np.diff(periods) != 0)) + 1
        for index in (0, *borders.tolist()):
            self._changes.append((int(time_ns[index]), bool(state[index])))

    def add_breaks(self, breaks: Breaks, start_ns: int) -> None:
        """Take the channel's silences in a bundle. start_ns: the capture's first frame."""
        for number, (end, start) in enumerate((breaks.times - start_ns).tolist(), breaks.first + 1):
            if start <= self._begin:
                self._awake = number
            elif end <= self._end:
                self._silences.append((end, start))

    def result(self, file: str, gap_ns: int, last_ns: int, end_ns: int) -> MarkSeen:
        """How the role followed it.

        gap_ns:  the median gap of the frames that carry the signal
        last_ns: the channel's last frame
        end_ns:  the capture's; a channel that ended shortly before was awake, as far as can be told
        """
        window = self._window
        begin = max(window.from_ns + REACTION_NS + gap_ns, 0)
        end = min(window.to_ns - REACTION_NS, end_ns)
        if end - SILENCE_NS <= last_ns < end:
            end = last_ns
        reach = window.to_ns + REACTION_NS + gap_ns
        is_partly = any(state and time <= reach for time, state in self._changes)
        is_answered = is_partly if end - begin < LEAST_NS else end <= last_ns and self._holds(begin, end)
        return MarkSeen(
            key=window.key,
            file=file,
            state=window.state,
            between=window.marked_between,
            from_s=window.from_ns / 1e9,
            to_s=window.to_ns / 1e9,
            is_answered=is_answered,
            is_partly=is_partly,
            valid=self._valid,
            in_state=self._in_state,
        )

    def _holds(self, begin: int, end: int) -> bool:
        """Whether the role has the marked state all the time from ``begin`` to ``end``."""
        if any(silent < end and again > begin for silent, again in self._silences):
            return False
        latest: tuple[int, bool] | None = None
        if self._before is not None and self._before[1] == self._awake:
            latest = _LONG_BEFORE, self._before[0]
        for time, state in sorted(self._changes, key=lambda change: change[0]):
            if time > begin:
                break
            latest = time, state
        if latest is None or not latest[1]:
            return False
        if any(latest[0] <= silent <= begin for silent, _ in self._silences):
            return False
        return all(state for time, state in self._changes if begin < time <= end)


class OutsideMeter:
    """Valid frames in an active state outside the marks that call for one, in a capture with marks."""

    def __init__(self, windows: tuple[Window, ...]) -> None:
        self._calling = [window for window in windows if window.calls_active]
        self._frames = 0
        self._first: int | None = None
        self._late: list[NDArray[np.int64]] = []  # soon after a mark: the gap decides

    def add(self, active_ns: NDArray[np.int64]) -> None:
        """Take times of valid frames in an active state, in ns from the capture's first frame."""
        late = np.zeros(len(active_ns), np.bool_)
        asked = np.zeros(len(active_ns), np.bool_)
        for window in self._calling:
            asked |= window.covers(active_ns)
            late |= window.covers(active_ns, MOST_GAP_NS)
        if (late & ~asked).any():
            self._late.append(active_ns[late & ~asked])
        self._count(active_ns[~late])

    def _count(self, outside_ns: NDArray[np.int64]) -> None:
        self._frames += len(outside_ns)
        if len(outside_ns):
            first = int(outside_ns.min())
            self._first = first if self._first is None else min(first, self._first)

    def result(self, file: str, gap_ns: int) -> Outside:
        """gap_ns: the median gap of the frames that carry the signal."""
        for times in self._late:
            asked = np.zeros(len(times), np.bool_)
            for window in self._calling:
                asked |= window.covers(times, gap_ns)
            self._count(times[~asked])
        self._late.clear()
        first = None if self._first is None else (self._first / 1e9, file)
        return Outside(self._frames, first)
