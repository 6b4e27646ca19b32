"""Observing one signal on one channel, one chunk after another."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from netcheck.capture import Capture
from netcheck.database import Extracted, Signal, extract
from netcheck.evidence._gaps import GapMeter, Stretches
from netcheck.evidence._observation import Counted, Extremes, MarkSeen, Observation
from netcheck.evidence._watch import Watch, Window, is_any_of, slack


@dataclass(frozen=True)
class Rows:
    """A message's frames in a chunk, on one channel.

    indices:   rows of the capture chunk
    positions: the same frames, counted among the channel's data frames of the chunk
    """

    chunk: Capture
    indices: NDArray[np.int64]
    positions: NDArray[np.int64]
    stretches: Stretches

    @property
    def time_ns(self) -> NDArray[np.int64]:
        """Time stamps of the frames."""
        times: NDArray[np.int64] = self.chunk.time_ns[self.indices]
        return times


class SignalMeter:
    """Adds up what is seen of a watch; ``result`` closes the last gap and gives the sum."""

    def __init__(
        self, watch: Watch, windows: tuple[Window, ...], file: str, start_ns: int, channel_ns: int
    ) -> None:
        """file: for messages; start_ns: the capture's first frame; channel_ns: the channel's."""
        self._watch = watch
        self._windows = windows
        self._file = file
        self._start_ns = start_ns
        self._gaps = GapMeter(channel_ns)
        self._counter = CounterMeter(watch.counter) if watch.counter is not None else None
        self._seen = Observation(marks=tuple(MarkSeen(window.key, window.label) for window in windows))

    def add(self, rows: Rows) -> None:
        """Take the message's frames of a chunk."""
        watch = self._watch
        extracted = extract(rows.chunk, watch.message, watch.signal, rows.indices)
        carries = extracted.carries
        self._gaps.add(rows.positions[carries], rows.time_ns[carries], rows.stretches)
        if not len(rows.indices):
            return
        seen = Observation(
            frames=len(rows.indices),
            too_short=int(np.count_nonzero(~extracted.long_enough)),
            carried=int(np.count_nonzero(carries)),
        )
        if self._counter is not None:
            seen += self._counter.add(rows, watch)
        self._seen += seen + self._values(rows.time_ns[carries] - self._start_ns, extracted)

    def result(self, last_ns: int, end_ns: int) -> Observation:
        """What was seen, up to the channel's last frame at ``last_ns`` and the capture's at ``end_ns``."""
        inside = end_ns - self._start_ns
        marks = tuple(
            replace(mark, is_long=window.is_long(inside))
            for mark, window in zip(self._seen.marks, self._windows, strict=True)
        )
        return replace(self._seen, marks=marks) + Observation(gaps=self._gaps.finish(last_ns))

    def _values(self, since_first_ns: NDArray[np.int64], extracted: Extracted) -> Observation:
        watch = self._watch
        raw, value = extracted.raw[extracted.carries], extracted.value[extracted.carries]
        no_value = is_any_of(raw, watch.not_available) | ~np.isfinite(value)
        stray = ~no_value & _outside_limits(watch.signal, value)
        valid = ~no_value & ~stray
        time, stray_value = since_first_ns[valid], value[stray]
        raw, value = raw[valid], value[valid]
        active = is_any_of(raw, watch.active)
        outside = self._outside(time[active])
        return Observation(
            unavailable=int(np.count_nonzero(no_value)),
            out_of_range=len(stray_value),
            valid=len(raw),
            active=int(np.count_nonzero(active)),
            inactive=int(np.count_nonzero(~active)),
            raw=_extremes(raw),
            value=_extremes(value),
            stray=_extremes(stray_value),
            marks=tuple(_mark_seen(window, time, raw, value) for window in self._windows),
            outside=len(outside),
            first_outside=f"{outside[0] / 1e9:.1f} s in {self._file}" if len(outside) else "",
        )

    def _outside(self, active_ns: NDArray[np.int64]) -> NDArray[np.int64]:
        """Times at which the role was active although no mark of this capture called for it."""
        asked = np.zeros(len(active_ns), np.bool_)
        for window in self._windows:
            if window.calls_active:
                asked |= window.covers(active_ns)
        return active_ns[~asked]


class CounterMeter:
    """Steps of a rolling counter between frames that hold it, within an awake stretch."""

    def __init__(self, counter: Signal) -> None:
        self._counter = counter
        self._modulo = counter_modulo(counter)
        self._last: tuple[int, int] | None = None  # value, stretch

    def add(self, rows: Rows, watch: Watch) -> Observation:
        """Take the message's frames of a chunk; gives steps, still and jumps."""
        extracted = extract(rows.chunk, watch.message, self._counter, rows.indices)
        held = extracted.carries
        values = extracted.raw[held].astype(np.int64)
        stretch = rows.stretches.number[rows.positions[held]]
        if not len(values):
            return Observation()
        if self._last is not None:
            values = np.concatenate(([self._last[0]], values))
            stretch = np.concatenate(([self._last[1]], stretch))
        self._last = int(values[-1]), int(stretch[-1])
        step = np.diff(values)[np.diff(stretch) == 0]
        return Observation(
            steps=len(step),
            still=int(np.count_nonzero(step == 0)),
            jumps=int(np.count_nonzero(np.mod(step, self._modulo) != 1 % self._modulo)),
        )


def counter_modulo(counter: Signal) -> int:
    """What a counter counts to: 2 to its width, or its maximum + 1 where that is smaller."""
    modulo = 1 << min(counter.width, 62)
    if counter.maximum is not None and counter.scale:
        highest = round((counter.maximum - counter.offset) / counter.scale)
        modulo = min(modulo, max(highest, 0) + 1)
    return modulo


def _outside_limits(signal: Signal, value: NDArray[np.float64]) -> NDArray[np.bool_]:
    allowed = slack(signal)
    outside = np.zeros(len(value), np.bool_)
    if signal.minimum is not None:
        outside |= value < signal.minimum - allowed
    if signal.maximum is not None:
        outside |= value > signal.maximum + allowed
    return outside


def _extremes(values: NDArray[np.generic]) -> Extremes:
    return Extremes(values.min().item(), values.max().item()) if len(values) else Extremes()


def _mark_seen(
    window: Window, time: NDArray[np.int64], raw: NDArray[np.generic], value: NDArray[np.float64]
) -> MarkSeen:
    in_state = window.in_state(raw, value)
    within, around = window.within(time), window.covers(time)
    return MarkSeen(
        window.key, window.label, _counted(within, within & in_state), _counted(around, around & in_state)
    )


def _counted(valid: NDArray[np.bool_], in_state: NDArray[np.bool_]) -> Counted:
    return Counted(int(np.count_nonzero(valid)), int(np.count_nonzero(in_state)))
