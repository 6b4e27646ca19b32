"""When a signal was in a state: periods, followed chunk by chunk while the frames come in."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck.capture import Capture
from netcheck.database import Extracted, extract
from netcheck.evidence._window import Window, window
from netcheck.files import Mark
from netcheck.records import dataclass
from netcheck.roles import Watch, is_any_of, is_inside

MOST_PERIODS: Final = 1000  # a role that changes more often moves by itself; later ones are only counted


@dataclass
class StatePeriod:
    """A run of valid frames in the state, in ns of the log; it may still go on."""

    first_ns: int
    last_ns: int
    frames: int
    is_open: bool = True


@dataclass(frozen=True)
class SignalReading:
    """The latest value of a signal. label: "" where the value table has none."""

    raw: int | float
    value: float
    label: str
    unit: str
    is_valid: bool


class StateMeter:
    """One signal while the frames come in: its value, its changes, its periods in one state.

    periods:   in order of time; the last one may be open
    more:      periods beyond MOST_PERIODS, which are not kept
    frames:    frames that carry the signal
    changes:   since ``reset``: of a role with active states, between active and inactive; of another one,
               steps larger than the noise
    noise:     how far the value wandered while nobody touched anything; ``calm`` measures it
    """

    def __init__(self, watch: Watch, state: str | int | None) -> None:
        """state: as a mark names it; None, or one that the signal does not have, gives no periods."""
        self.watch = watch
        self._state = None if state is None else _window(watch, state)
        self.periods: list[StatePeriod] = []
        self.more = self.frames = 0
        self.changes = 0
        self.last_change_ns: int | None = None
        self.reading: SignalReading | None = None
        self.noise = 0.0
        self._was_active: bool | None = None  # in the last valid frame
        self._value: float | None = None  # in the last valid frame
        self._anchor: float | None = None  # the value that a step is measured from
        self._home: bool | float | None = None  # what it was at ``reset``
        self._lowest, self._highest = math.inf, -math.inf
        self._since_ns = self._first_ns = self._last_ns = 0

    @property
    def has_state(self) -> bool:
        """Whether there is a state to be in."""
        return self._state is not None

    @property
    def calls_active(self) -> bool:
        """Whether the state is an active one, which must not be taken unprompted."""
        return self._state is not None and self._state.calls_active

    def reset(self, now_ns: int) -> None:
        """Count changes anew, of frames from now on, and remember what it is now."""
        self.changes, self._since_ns = 0, now_ns
        self._home = self._now

    @property
    def is_back(self) -> bool:
        """Whether it is what it was at ``reset``: active or inactive, or its value but for the noise."""
        if self._home is None or self._now is None:
            return False
        return abs(self._now - self._home) <= (0.0 if self.watch.active else self.noise)

    @property
    def was_active(self) -> bool:
        """Whether it was active at ``reset``; False for a role without active states."""
        return self._home is True

    @property
    def _now(self) -> bool | float | None:
        return self._was_active if self.watch.active else self._value

    @property
    def gap_ns(self) -> int:
        """The mean gap between frames that carry the signal; 0 with fewer than two."""
        return (self._last_ns - self._first_ns) // (self.frames - 1) if self.frames > 1 else 0

    def interrupt(self) -> None:
        """The network fell silent: nobody knows what the state was meanwhile, so a period ends here."""
        if self.periods:
            self.periods[-1].is_open = False

    def calm(self) -> None:
        """What was seen up to now is noise."""
        self.noise = max(self._highest - self._lowest, 0.0)

    def add(self, chunk: Capture, indices: NDArray[np.int64]) -> None:
        """Take the frames of the watch's message in a chunk."""
        extracted = extract(chunk, self.watch.message, self.watch.signal, indices)
        carries = extracted.carries
        if not carries.any():
            return
        carried = chunk.time_ns[indices][carries]
        self._first_ns = self._first_ns if self.frames else int(carried[0])
        self._last_ns = int(carried[-1])
        self.frames += len(carried)
        valid = carries & _is_valid(self.watch, extracted)
        self._read(extracted, int(np.flatnonzero(carries)[-1]), valid)
        if not valid.any():
            return
        time_ns = chunk.time_ns[indices][valid]
        raw, value = extracted.raw[valid], extracted.value[valid]
        self._value = float(value[-1])
        if self.watch.active:
            self._count_flips(time_ns, is_any_of(raw, self.watch.active))
        else:
            self._count_steps(time_ns, value)
        if self._state is not None:
            self._add_periods(time_ns, self._state.in_state(raw, value))

    def _read(self, extracted: Extracted, last: int, valid: NDArray[np.bool_]) -> None:
        signal = self.watch.signal
        raw = extracted.raw[last].item()
        label = signal.labels.get(raw, "") if isinstance(raw, int) else ""
        self.reading = SignalReading(raw, float(extracted.value[last]), label, signal.unit, bool(valid[last]))

    def _count_flips(self, time_ns: NDArray[np.int64], active: NDArray[np.bool_]) -> None:
        before = np.empty_like(active)
        before[0] = active[0] if self._was_active is None else self._was_active
        before[1:] = active[:-1]
        self._was_active = bool(active[-1])
        for time in time_ns[active != before].tolist():
            self._count_change(time)

    def _count_steps(self, time_ns: NDArray[np.int64], value: NDArray[np.float64]) -> None:
        self._lowest = min(self._lowest, float(value.min()))
        self._highest = max(self._highest, float(value.max()))
        for time, now in zip(time_ns.tolist(), value.tolist(), strict=True):
            if self._anchor is None:
                self._anchor = now
            elif abs(now - self._anchor) > self.noise:
                self._anchor = now
                self._count_change(time)

    def _count_change(self, time: int) -> None:
        if time >= self._since_ns:
            self.changes += 1
            self.last_change_ns = time

    def _add_periods(self, time_ns: NDArray[np.int64], inside: NDArray[np.bool_]) -> None:
        borders = np.flatnonzero(np.diff(inside)) + 1
        for part in np.split(np.arange(len(inside)), borders):
            first, last = int(time_ns[part[0]]), int(time_ns[part[-1]])
            is_open = bool(self.periods) and self.periods[-1].is_open
            if not inside[part[0]]:
                if is_open:
                    self.periods[-1].is_open = False
            elif is_open:
                self.periods[-1].last_ns = last
                self.periods[-1].frames += len(part)
            elif len(self.periods) < MOST_PERIODS:
                self.periods.append(StatePeriod(first, last, len(part)))
            else:
                self.more += 1


def _window(watch: Watch, state: str | int) -> Window | None:
    return window(
        Mark.model_validate({"role": watch.role, "state": state, "from": 0.0, "to": 1.0}), "", watch
    )


def _is_valid(watch: Watch, extracted: Extracted) -> NDArray[np.bool_]:
    value = extracted.value
    with np.errstate(invalid="ignore"):
        valid = np.isfinite(value) & is_inside(watch.signal, value)
    result: NDArray[np.bool_] = valid & ~is_any_of(extracted.raw, watch.not_available)
    return result
