"""Observing signals on one channel, one bundle after another."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from netcheck.database import Extracted, Message, Signal, extract_all
from netcheck.evidence._bundle import Rows
from netcheck.evidence._gaps import Breaks, GapMeter
from netcheck.evidence._observation import Counted, Extremes, MarkSeen, Observation
from netcheck.evidence._window import Window
from netcheck.roles import Watch, is_any_of, slack


class Origin(NamedTuple):
    """A capture: its name for messages, and the time of its first frame."""

    file: str
    start_ns: int


class MessageMeter:
    """The watches of one message on one channel, a bundle at a time; what they share is looked at once."""

    def __init__(self, message: Message, channel_ns: int) -> None:
        """channel_ns: the channel's first frame."""
        self._message = message
        self._read: dict[str, Signal] = {}
        self._gaps = GapMeter(channel_ns)  # of signals that every frame so far carried
        self._counters: dict[str, CounterMeter] = {}
        self._signals: list[SignalMeter] = []

    def watch(self, watch: Watch, windows: tuple[Window, ...], origin: Origin) -> None:
        """One watch more, before the first bundle."""
        counter = watch.counter
        if counter is not None:
            self._read[counter.name] = counter
            self._counters.setdefault(counter.name, CounterMeter(counter))
        self._read[watch.signal.name] = watch.signal
        self._signals.append(SignalMeter(watch, windows, origin))

    def add(self, rows: Rows, breaks: Breaks) -> None:
        """Take the message's frames of a bundle, and the channel's breaks in it."""
        if len(rows.indices):
            every = extract_all(rows.payloads, self._message, [*self._read.values()], rows.indices)
            found = dict(zip(self._read, every, strict=True))
            for name, counter in self._counters.items():
                counter.add(rows, found[name])
            for signal in self._signals:
                signal.add(rows, found[signal.watch.signal.name], breaks, self._gaps)
        else:
            for signal in self._signals:
                signal.add_breaks(rows, breaks)
        self._gaps.add(rows.time_ns, rows.awake, breaks)

    def result(self, last_ns: int, end_ns: int) -> list[Observation]:
        """An observation per watch, up to the channel's last frame and the capture's latest."""
        found = []
        for signal in self._signals:
            counter = signal.watch.counter
            seen = signal.result(self._gaps, last_ns, end_ns)
            found.append(seen if counter is None else seen + self._counters[counter.name].seen)
        return found


class SignalMeter:
    """Adds up what is seen of a watch; ``result`` closes the last gap and gives the sum."""

    def __init__(self, watch: Watch, windows: tuple[Window, ...], origin: Origin) -> None:
        self.watch = watch
        self._windows = windows
        self._origin = origin
        self._gaps: GapMeter | None = None  # none while they are those of the message
        self._seen = Observation(marks=tuple(MarkSeen(window.key, window.label) for window in windows))

    def add_breaks(self, rows: Rows, breaks: Breaks) -> None:
        """Take a bundle without a frame of the message."""
        if self._gaps is not None:
            self._gaps.add(rows.time_ns, rows.awake, breaks)

    def add(self, rows: Rows, extracted: Extracted, breaks: Breaks, common: GapMeter) -> None:
        """Take the message's frames of a bundle. common: the message's gaps before it."""
        carries = extracted.carries
        time_ns, raw, value = rows.time_ns, extracted.raw, extracted.value
        is_whole = bool(carries.all())
        if not is_whole:
            time_ns, raw, value = time_ns[carries], raw[carries], value[carries]
            if self._gaps is None:
                self._gaps = common.copy()
        if self._gaps is not None:
            self._gaps.add(time_ns, rows.awake if is_whole else rows.awake[carries], breaks)
        self._seen += replace(
            self._values(time_ns - self._origin.start_ns, raw, value),
            frames=len(rows.indices),
            too_short=int(np.count_nonzero(~extracted.long_enough)),
            carried=len(time_ns),
        )

    def result(self, common: GapMeter, last_ns: int, end_ns: int) -> Observation:
        """What was seen, up to the channel's last frame at ``last_ns`` and the capture's at ``end_ns``."""
        inside = end_ns - self._origin.start_ns
        marks = tuple(
            replace(mark, is_long=window.is_long(inside))
            for mark, window in zip(self._seen.marks, self._windows, strict=True)
        )
        return replace(self._seen, marks=marks, gaps=(self._gaps or common).finish(last_ns))

    def _values(
        self, since_first_ns: NDArray[np.int64], raw: NDArray[np.generic], value: NDArray[np.float64]
    ) -> Observation:
        watch = self.watch
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
            first_outside=f"{outside[0] / 1e9:.1f} s in {self._origin.file}" if len(outside) else "",
        )

    def _outside(self, active_ns: NDArray[np.int64]) -> NDArray[np.int64]:
        """Times at which the role was active although no mark of this capture called for it."""
        asked = np.zeros(len(active_ns), np.bool_)
        for window in self._windows:
            if window.calls_active:
                asked |= window.covers(active_ns)
        return active_ns[~asked]


class CounterMeter:
    """Steps of a rolling counter between frames that hold it, within an awake period."""

    def __init__(self, counter: Signal) -> None:
        self.seen = Observation()  # steps, still and jumps so far
        self._modulo = counter_modulo(counter)
        self._last: tuple[int, int] | None = None  # value, awake period

    def add(self, rows: Rows, extracted: Extracted) -> None:
        """Take the message's frames of a bundle."""
        values, awake, held = extracted.raw, rows.awake, extracted.carries
        if not held.all():
            values, awake = values[held], awake[held]
        if not len(values):
            return
        values = values.astype(np.int64, copy=False)
        if self._last is not None:
            values = np.concatenate(([self._last[0]], values))
            awake = np.concatenate(([self._last[1]], awake))
        self._last = int(values[-1]), int(awake[-1])
        step = np.diff(values)[np.diff(awake) == 0]
        self.seen += Observation(
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
