"""What is known of a quantity beforehand: a rough track, marks with ranges, or another signal's values."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck.bits import bit_positions
from netcheck.database import Message, Signal, extract, is_message
from netcheck.find._movements import MessageMovements, Movements
from netcheck.network import FrameId
from netcheck.records import dataclass

_JOIN: Final = 1.2  # s between two samples, up to which a value in between is taken from both
_NEAR: Final = 0.12  # s from a sample, up to which its value holds
_EDGE: Final = 0.5  # s at either end of a mark, which a person's watch may miss
_LEAST_INSIDE: Final = 0.4  # s that have to be left
_DENSE: Final = 0.3  # s between samples, up to which a lag can be told


class KnownKind(StrEnum):
    """Where the known values come from."""

    TRACK = "track"
    MARKS = "marks"
    SIGNAL = "signal"


@dataclass(frozen=True, eq=False)
class KnownSamples:
    """A quantity at some times. times: float64[n], s, rising; values: float64[n]"""

    times: NDArray[np.float64]
    values: NDArray[np.float64]

    def at(self, times: NDArray[np.float64]) -> NDArray[np.float64]:
        """Values at other times; NaN where no sample is near enough."""
        if not len(self.times):
            return np.full(len(times), np.nan)
        found: NDArray[np.float64] = np.interp(times, self.times, self.values)
        after = np.clip(np.searchsorted(self.times, times), 1, max(len(self.times) - 1, 1))
        before = self.times[after - 1]
        behind = self.times[np.minimum(after, len(self.times) - 1)]
        is_joined = (times >= before) & (times <= behind) & (behind - before <= _JOIN)
        to_before, to_behind = np.abs(times - before), np.abs(times - behind)
        nearest = np.where(to_before <= to_behind, after - 1, np.minimum(after, len(self.times) - 1))
        is_near = np.minimum(to_before, to_behind) <= _NEAR
        found = np.where(is_joined, found, self.values[nearest])
        return np.where(is_joined | is_near, found, np.nan)

    @property
    def apart(self) -> float:
        """Seconds between two of them, the median."""
        return float(np.median(np.diff(self.times))) if len(self.times) > 1 else 0.0


@dataclass(frozen=True, eq=False)
class Known:
    """What a quantity did, as far as known.

    samples:  of a track its corners, of a signal its samples; of marks the middle of each range, at both ends
    spans:    where that holds, s
    source:   of a signal: ``MESSAGE.SIGNAL``
    place:    of a signal: its message in ``file``, and the bits that it takes there
    """

    kind: KnownKind
    samples: KnownSamples
    spans: tuple[tuple[float, float], ...]
    unit: str = ""
    source: str = ""
    file: str = ""
    place: tuple[tuple[str, FrameId], tuple[int, ...]] | None = None

    def at(self, times: NDArray[np.float64], lag: float = 0.0) -> NDArray[np.float64]:
        """Values at times, shifted by a lag in s; NaN where nothing is known."""
        if self.kind is KnownKind.SIGNAL:
            return self.samples.at(times - lag)
        known = np.zeros(len(times), np.bool_)
        for begin, end in self.spans:
            known |= (times >= begin) & (times <= end)
        values = np.interp(times - lag, self.samples.times, self.samples.values)
        return np.where(known, values, np.nan)

    @property
    def lags(self) -> tuple[float, ...]:
        """Seconds by which a field may move later than what is known of it."""
        if self.kind is not KnownKind.SIGNAL:
            return tuple(round(0.2 * step, 1) for step in range(-8, 9))
        if self.samples.apart > _DENSE:
            return (0.0,)
        return tuple(round(0.1 * step, 1) for step in range(-6, 7))


def track(points: Sequence[tuple[float, float]], unit: str = "") -> Known:
    """A rough track: corners in s and ``unit``, straight in between. Needs two points."""
    ordered = sorted(points)
    times = np.array([time for time, _ in ordered])
    values = np.array([value for _, value in ordered])
    spans = ((float(times[0]), float(times[-1])),)
    return Known(KnownKind.TRACK, KnownSamples(times, values), spans, unit)


def ranges(marks: Sequence[tuple[float, float, float, float]], unit: str = "") -> Known:
    """Marks: from, to, lowest and highest value. What lies half a second from their ends is left out."""
    spans, values = [], []
    for begin, end, low, high in sorted(marks):
        edge = min(_EDGE, max((end - begin - _LEAST_INSIDE) / 2, 0.0))
        spans.append((begin + edge, end - edge))
        values.append((low + high) / 2)
    times = np.array(spans).ravel()
    return Known(KnownKind.MARKS, KnownSamples(times, np.repeat(values, 2)), tuple(spans), unit)


def known_signal(
    movements: Movements, message: Message, signal: Signal, *, later_ns: int = 0
) -> Known | None:
    """A signal of a DBC, from the samples of its message; None where it never came.

    later_ns: by how much the capture that is searched began later than this one
    """
    ids = np.array([each.frame_id.can_id for each in movements.messages], np.uint32)
    wide = np.array([each.frame_id.is_extended for each in movements.messages], np.bool_)
    found = [movements.messages[place] for place in np.flatnonzero(is_message(message, ids, wide))]
    if not found:
        return None
    source = max(found, key=lambda each: each.count)
    times, values = _values(source, message, signal)
    if not len(times):
        return None
    samples = KnownSamples(times - later_ns / 1e9, values)
    span = (float(samples.times[0]), float(samples.times[-1]))
    return Known(
        kind=KnownKind.SIGNAL,
        samples=samples,
        spans=(span,),
        unit=signal.unit,
        source=f"{message.name}.{signal.name}",
        file=movements.file,
        place=(source.key, bit_positions(signal.start, signal.width, signal.is_big_endian)),
    )


def _values(
    source: MessageMovements, message: Message, signal: Signal
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Times and physical values of samples that carry the signal."""
    count, size = len(source.sampled), 8 * len(source.lanes)
    words = np.stack([lane.samples for lane in source.lanes], axis=1)
    payloads = _Payloads(
        length=np.full(count, source.length, np.uint8),
        start=np.arange(count, dtype=np.int64) * size,
        data=words.astype("<u8").view(np.uint8).ravel(),
    )
    taken = extract(payloads, message, signal, np.arange(count, dtype=np.int64))
    keep = taken.carries & np.isfinite(taken.value) & is_rising(source.sampled)
    return source.sampled[keep], taken.value[keep]


@dataclass(frozen=True, eq=False)
class _Payloads:
    """Payload bytes of samples."""

    length: NDArray[np.uint8]
    start: NDArray[np.int64]
    data: NDArray[np.uint8]


def is_rising(times: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Where times are later than all before."""
    latest = np.maximum.accumulate(times)
    return np.append(True, times[1:] > latest[:-1]) if len(times) else np.zeros(0, np.bool_)
