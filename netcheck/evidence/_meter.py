"""Observing signals on one channel, one bundle after another."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from netcheck._compile import kernels
from netcheck.database import Extracted, Message, Signal, extract_all
from netcheck.evidence._bundle import Rows
from netcheck.evidence._counts import C_CUT, C_RUN, CounterBook, counts_in
from netcheck.evidence._gaps import Breaks, GapMeter
from netcheck.evidence._marks import MarkMeter, OutsideMeter
from netcheck.evidence._observation import CounterSeen, Extremes, Observation, Outside
from netcheck.evidence._stretches import Stretches
from netcheck.evidence._turns import TurnMeter, Turns
from netcheck.evidence._window import MOST_GAP_NS, Window
from netcheck.network import Gaps, GapTally
from netcheck.roles import Watch

_KERNELS: Final = kernels("netcheck.evidence._kernels")


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

    def watch(
        self, watch: Watch, windows: tuple[Window, ...], origin: Origin, turns: TurnMeter | None = None
    ) -> None:
        """One watch more, before the first bundle. turns: follows it, too, where that is wanted"""
        counter = watch.counter
        if counter is not None:
            self._read[counter.name] = counter
            self._counters.setdefault(counter.name, CounterMeter(counter))
        self._read[watch.signal.name] = watch.signal
        self._signals.append(SignalMeter(watch, windows, origin, turns))

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

    def turns(self) -> list[Turns | None]:
        """Per watch, when it turned, where that was wanted."""
        return [signal.turns.result() if signal.turns is not None else None for signal in self._signals]

    def result(self, last_ns: int, end_ns: int) -> list[Observation]:
        """An observation per watch, up to the channel's last frame and the capture's."""
        counters = {name: meter.result() for name, meter in self._counters.items()}
        common = _Closed(self._gaps, last_ns)
        found = []
        for signal in self._signals:
            counter = signal.watch.counter
            seen = signal.result(common, last_ns, end_ns)
            found.append(seen if counter is None else replace(seen, counter=counters[counter.name]))
        return found


class _Closed:
    """Gaps of a message at the end, up to the channel's last frame: worked out once for all its watches."""

    def __init__(self, meter: GapMeter, last_ns: int) -> None:
        self.gaps = meter.finish(last_ns)
        self.between = meter.between()


class SignalMeter:
    """Adds up what is seen of a watch; ``result`` closes the last gap and gives the sum."""

    def __init__(
        self, watch: Watch, windows: tuple[Window, ...], origin: Origin, turns: TurnMeter | None = None
    ) -> None:
        self.watch = watch
        self.turns = turns
        self._origin = origin
        self._gaps: GapMeter | None = None  # none while they are those of the message
        self._seen: Observation | None = None  # none before the first frame
        self._marks = [MarkMeter(window) for window in windows]
        self._outside = OutsideMeter(windows) if windows else None
        self._changes = ChangeMeter()

    def add_breaks(self, rows: Rows, breaks: Breaks) -> None:
        """Take a bundle without a frame of the message."""
        self._add_silences(breaks)
        if self._gaps is not None:
            self._gaps.add(rows.time_ns, rows.awake, breaks)

    def _add_silences(self, breaks: Breaks) -> None:
        if len(breaks.times):
            for mark in self._marks:
                mark.add_breaks(breaks, self._origin.start_ns)

    def add(self, rows: Rows, extracted: Extracted, breaks: Breaks, common: GapMeter) -> None:
        """Take the message's frames of a bundle. common: the message's gaps before it."""
        self._add_silences(breaks)
        time_ns, awake, raw = rows.time_ns, rows.awake, extracted.raw
        if not extracted.is_everywhere:
            carries = extracted.carries
            time_ns, awake, raw = time_ns[carries], awake[carries], raw[carries]
            if self._gaps is None:
                self._gaps = common.copy()
        if self._gaps is not None:
            self._gaps.add(time_ns, awake, breaks)
        seen = Stretches.of(raw, time_ns, awake, self.watch)
        if self.turns is not None:
            self.turns.add(time_ns, seen)
        self._changes.add(time_ns, awake, seen)
        if self._outside is not None:
            self._add_marked(self._outside, time_ns - self._origin.start_ns, awake, seen)
        carried = Observation(
            frames=len(rows.indices),
            too_short=len(rows.indices) - int(np.count_nonzero(extracted.long_enough)),
            carried=len(time_ns),
            timed=len(time_ns),
            unavailable=seen.frames(~(seen.is_valid | seen.is_stray)),
            out_of_range=seen.frames(seen.is_stray),
            valid=seen.frames(seen.is_valid),
            active=seen.frames(seen.is_active),
            inactive=seen.frames(seen.is_valid & ~seen.is_active),
            raw=_extremes(seen.raw[seen.is_valid]),
            value=_extremes(seen.value[seen.is_valid]),
            stray=_extremes(seen.value[seen.is_stray]),
        )
        self._seen = carried if self._seen is None else self._seen + carried

    def _add_marked(
        self, outside: OutsideMeter, since_ns: NDArray[np.int64], awake: NDArray[np.int32], seen: Stretches
    ) -> None:
        """Frames of a capture with marks. since_ns: their times from the capture's first frame"""
        outside.add(since_ns[seen.each(seen.is_active)])
        valid = seen.each(seen.is_valid)
        for mark in self._marks:
            mark.add(since_ns[valid], awake[valid], seen.each(seen.raw)[valid], seen.each(seen.value)[valid])

    def result(self, common: _Closed, last_ns: int, end_ns: int) -> Observation:
        """What was seen, up to the channel's last frame at ``last_ns`` and the capture's at ``end_ns``.

        common: gaps of the message, for a signal that every frame carried
        """
        closed = common if self._gaps is None else _Closed(self._gaps, last_ns)
        gap_ns = min(closed.between.percentile_ns(50) or 0, MOST_GAP_NS)
        file, start_ns = self._origin.file, self._origin.start_ns
        last, end = last_ns - start_ns, end_ns - start_ns
        return replace(
            self._seen or Observation(),
            gaps=closed.gaps,
            between=closed.between,
            change_gaps=self._changes.result(),
            marks=tuple(mark.result(file, gap_ns, last, end) for mark in self._marks),
            outside=self._outside.result(file, gap_ns) if self._outside is not None else Outside(),
        )


class ChangeMeter:
    """How soon frames with another value came after the frame before, within an awake period."""

    def __init__(self) -> None:
        self._tally: GapTally | None = None  # none before the first change
        self._last: tuple[int, int, Any, bool] | None = None  # time, awake period, raw value, is valid

    def add(self, time_ns: NDArray[np.int64], awake: NDArray[np.int32], seen: Stretches) -> None:
        """Take the frames of a bundle that carry the signal, and what they have."""
        if not len(time_ns):
            return
        valid = seen.is_valid
        if self._last is not None:
            time, period, value, is_valid = self._last
            if is_valid and valid[0] and seen.raw[0] != value and awake[0] == period:
                self._count(np.array([max(time_ns[0] - time, 0)], np.int64))
        self._last = int(time_ns[-1]), int(awake[-1]), seen.raw[-1], bool(valid[-1])
        gaps = seen.gaps_ns[1:]
        self._count(gaps[valid[1:] & valid[:-1] & (gaps >= 0) & (seen.raw[1:] != seen.raw[:-1])])

    def _count(self, gaps: NDArray[np.int64]) -> None:
        if len(gaps):
            if self._tally is None:
                self._tally = GapTally()
            self._tally.add(gaps)

    def result(self) -> Gaps:
        """How long after the frame before each change came."""
        return Gaps.none() if self._tally is None else self._tally.result()


class CounterMeter:
    """Steps of a rolling counter between frames that hold it, within an awake period."""

    def __init__(self, counter: Signal) -> None:
        self._modulo = counter_modulo(counter)
        self._book = CounterBook.empty()

    def add(self, rows: Rows, extracted: Extracted) -> None:
        """Take the message's frames of a bundle."""
        values, awake = extracted.raw, rows.awake
        if not extracted.is_everywhere:
            values, awake = values[extracted.carries], awake[extracted.carries]
        values = values.astype(np.int64, copy=False)
        done = _KERNELS.count_steps(values, awake, 0, self._modulo, self._book)
        while done < len(values):
            self._book = self._book.grown()
            done = _KERNELS.count_steps(values, awake, done, self._modulo, self._book)

    def result(self) -> CounterSeen:
        """The steps so far."""
        state = self._book.state
        cut = int(max(state[C_CUT], state[C_RUN]))
        return CounterSeen(counts_in(self._book.steps), counts_in(self._book.runs), cut)


def counter_modulo(counter: Signal) -> int:
    """What a counter counts to: 2 to its width, or its maximum + 1 where that is smaller."""
    modulo = 1 << min(counter.width, 62)
    if counter.maximum is not None and counter.scale:
        highest = round((counter.maximum - counter.offset) / counter.scale)
        modulo = min(modulo, max(highest, 0) + 1)
    return modulo


def _extremes(values: NDArray[np.generic]) -> Extremes:
    return Extremes(values.min().item(), values.max().item()) if len(values) else Extremes()
