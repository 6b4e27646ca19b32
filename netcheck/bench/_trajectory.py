"""One signal's raw value over time."""

from __future__ import annotations

import random
from collections.abc import Sequence

from netcheck.bench._encode import nearest_raw, physical
from netcheck.bench._scenario import Point
from netcheck.database import Signal
from netcheck.errors import UsageError


class Trajectory:
    """Follows the points of a signal; asked with times that never go back."""

    def __init__(self, signal: Signal, points: Sequence[Point], start: float, noise: float) -> None:
        self._signal = signal
        self._points = [(point.at, self._physical(point.value), point.ramp) for point in points]
        self._noise = noise
        self._constant = None if points or noise else start  # exact at any width, and quick
        self._wander = 0.0
        self._value = self._from = physical(signal, start)
        self._begin, self._ramp = float("-inf"), 0.0
        self._next = 0

    def raw(self, time: float, rng: random.Random) -> float:
        """Raw value at ``time`` in seconds; noise stays inside the signal's limits."""
        if self._constant is not None:
            return self._constant
        while self._next < len(self._points) and self._points[self._next][0] <= time:
            at, value, ramp = self._points[self._next]
            self._from, self._value, self._begin, self._ramp = self._now(at), value, at, ramp
            self._next += 1
        value = self._now(time)
        if self._noise:
            self._wander = 0.85 * self._wander + 0.4 * rng.uniform(-self._noise, self._noise)
            low, high = self._signal.minimum, self._signal.maximum
            value += self._wander
            value = value if low is None else max(value, low)
            value = value if high is None else min(value, high)
        return nearest_raw(self._signal, value)

    def _now(self, time: float) -> float:
        if time >= self._begin + self._ramp:
            return self._value
        return self._from + (self._value - self._from) * (time - self._begin) / self._ramp

    def _physical(self, value: float | str) -> float:
        if not isinstance(value, str):
            return float(value)
        for raw, label in self._signal.labels.items():
            if label == value:
                return physical(self._signal, raw)
        raise UsageError(f"signal {self._signal.name} has no value labelled '{value}'")
