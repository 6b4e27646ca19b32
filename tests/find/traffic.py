"""Traffic made from open DBCs: real layouts, with counters, checksums, noisy neighbours and human marks.

Everything hangs on a seed. A run has one truth at most, which is a field of a real layout that no other
signal overlaps; gateways copy it, lamps follow it, other roles are worked between the presses.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from typing import Any

import cantools
import numpy as np
from numpy.typing import NDArray

from netcheck.capture import EXTENDED, Capture
from netcheck.find import FindMark, FoundField
from netcheck.network import FrameId
from tests.database.test_opendbc import REFUSED, texts

MOST = 60  # messages of a capture
PERIODS = (0.01, 0.02, 0.02, 0.05, 0.1, 0.1, 0.2, 0.5, 1.0)
START = 1_700_000_000_000_000_000


@dataclass(frozen=True)
class Place:
    """A signal of a layout, by the bits that it takes from its least significant one on."""

    name: str
    bits: tuple[int, ...]
    is_signed: bool = False
    is_big: bool = False

    def field(self, channel: str, frame_id: FrameId) -> FoundField:
        low = self.bits[0]
        order = "big" if self.is_big else "little"
        return FoundField(channel, frame_id, low // 8, low % 8, len(self.bits), order, self.is_signed)


@dataclass(frozen=True)
class Layout:
    """A message."""

    name: str
    frame_id: FrameId
    length: int
    places: tuple[Place, ...]


@cache
def names() -> list[str]:
    """DBCs that can be read, in order."""
    return [name for name in texts() if name not in REFUSED]


@cache
def layouts(name: str) -> tuple[Layout, ...]:
    """Messages of up to eight bytes whose signals do not overlap; () where there are fewer than ten."""
    try:
        database: Any = cantools.database.load_string(texts()[name], "dbc", strict=False)
    except (
        cantools.database.UnsupportedDatabaseFormatError
    ):  # that the loader mends, which is its test's matter
        return ()
    found = [layout for each in database.messages if (layout := _layout(each)) is not None and layout.places]
    return tuple(found) if len(found) >= 10 else ()


def _layout(message: Any) -> Layout | None:
    if not 1 <= message.length <= 8 or message.is_multiplexed():
        return None
    taken: set[int] = set()
    places = []
    for signal in sorted(message.signals, key=lambda each: each.name):
        is_big = signal.byte_order == "big_endian"
        bits = bits_of(signal.start, signal.length, is_big)
        if taken & set(bits) or max(bits) >= 8 * message.length or signal.is_float:
            continue
        taken |= set(bits)
        places.append(Place(signal.name, bits, signal.is_signed, is_big))
    frame_id = FrameId(message.frame_id, message.is_extended_frame)
    return Layout(message.name, frame_id, message.length, tuple(places))


def bits_of(start: int, width: int, is_big: bool) -> tuple[int, ...]:
    """From the least significant one on; counted here by hand, not by the package."""
    if not is_big:
        return tuple(range(start, start + width))
    bits, bit = [], start
    for _ in range(width):
        bits.append(bit)
        bit = bit - 1 if bit % 8 else bit + 15
    return tuple(reversed(bits))


@dataclass
class Wire:
    """A message as it is sent: when, and the value of each signal at each frame."""

    layout: Layout
    times: NDArray[np.float64]
    values: dict[str, NDArray[np.int64]] = field(default_factory=dict)
    channel: int = 0

    def words(self) -> NDArray[np.uint64]:
        """Payloads, little-endian."""
        words = np.zeros(len(self.times), np.uint64)
        for place in self.layout.places:
            values = self.values[place.name]
            for number, bit in enumerate(place.bits):
                words |= ((values >> number) & 1).astype(np.uint64) << np.uint64(bit)
        return words


@dataclass(frozen=True)
class Steps:
    """A value that changes at times: values[k] from times[k] on, the first from the beginning."""

    times: tuple[float, ...]
    values: tuple[int, ...]

    def at(self, times: NDArray[np.float64]) -> NDArray[np.int64]:
        places = np.searchsorted(self.times, times, side="right")
        return np.array([self.values[0], *self.values[1:]], np.int64)[places]

    def later(self, seconds: float) -> Steps:
        return replace(self, times=tuple(time + seconds for time in self.times))


def presses_to_steps(presses: Sequence[tuple[float, float]], active: int = 1, rest: int = 0) -> Steps:
    times, values = [], [rest]
    for begin, end in presses:
        times += [begin, end]
        values += [active, rest]
    return Steps(tuple(times), tuple(values))


class Traffic:
    """All messages of a DBC, with what their signals do when nobody works anything."""

    def __init__(
        self, rng: np.random.Generator, layout: Sequence[Layout], seconds: float, most: int = MOST
    ) -> None:
        self.rng = rng
        self.seconds = seconds
        self.wires: dict[FrameId, Wire] = {}
        chosen = list(layout)
        if len(chosen) > most:
            chosen = [chosen[i] for i in sorted(rng.choice(len(chosen), most, replace=False).tolist())]
        for each in chosen:
            if each.frame_id not in self.wires:
                self.wires[each.frame_id] = self._wire(each)

    def _wire(self, layout: Layout) -> Wire:
        rng = self.rng
        period = float(rng.choice(PERIODS))
        count = int(self.seconds / period)
        times = rng.uniform(0, period) + period * np.arange(count) + rng.normal(0, 0.02 * period, count)
        times = np.sort(np.clip(times, 0, None))
        wire = Wire(layout, times)
        for place in layout.places:
            wire.values[place.name] = self.idle(place, times)
        return wire

    def idle(self, place: Place, times: NDArray[np.float64]) -> NDArray[np.int64]:
        """What a signal does by itself."""
        rng, width, count = self.rng, len(place.bits), len(times)
        name = place.name.lower()
        top = (1 << min(width, 62)) - 1
        if "checksum" in name or "crc" in name or name.startswith("chk"):
            return rng.integers(0, top, count, endpoint=True, dtype=np.int64)
        if "counter" in name or "count" in name or (width in (2, 3, 4) and rng.random() < 0.05):
            return np.asarray(np.arange(count) & top, np.int64)
        kind = rng.random()
        if width <= 4:
            if kind < 0.55:
                return np.full(count, int(rng.integers(0, top, endpoint=True)), np.int64)
            if kind < 0.62:
                return rng.integers(0, top, count, endpoint=True, dtype=np.int64)
            if kind < 0.7:  # ignition
                return np.where(times < rng.uniform(0.2, 3), 0, top).astype(np.int64)
            rate = rng.choice([0.02, 0.05, 0.1, 0.3, 1.0])
            turns = np.sort(rng.uniform(0, self.seconds, rng.poisson(rate * self.seconds)))
            values = rng.integers(0, top, len(turns) + 1, endpoint=True, dtype=np.int64)
            if width == 1:
                values = (np.arange(len(turns) + 1) + int(rng.integers(2))) & 1
            return np.asarray(values[np.searchsorted(turns, times, side="right")], np.int64)
        if kind < 0.3:
            return np.full(count, int(rng.integers(0, top, endpoint=True)), np.int64)
        return walk(rng, times, min(width, 40), place.is_signed)

    def set(self, frame_id: FrameId, name: str, steps: Steps, *, at_changes: bool = False) -> None:
        """A signal follows steps; with ``at_changes`` its message is sent at each of them as well."""
        wire = self.wires[frame_id]
        if at_changes:
            more = np.array(steps.times) + self.rng.uniform(0.0005, 0.004, len(steps.times))
            more = more[(more > 0) & (more < self.seconds)]
            places = np.searchsorted(wire.times, more)
            for other, values in wire.values.items():
                wire.values[other] = np.insert(values, places, values[np.maximum(places - 1, 0)])
            wire.times = np.insert(wire.times, places, more)
        wire.values[name] = steps.at(wire.times)

    def capture(self, *, batch: float = 0.0) -> Capture:
        """The frames. batch: s between the stamps of a recorder that stamps in batches."""
        wires = list(self.wires.values())
        times = np.concatenate([wire.times for wire in wires])
        if batch:
            times = np.ceil(times / batch) * batch
        order = np.argsort(times, kind="stable")
        words = np.concatenate([wire.words() for wire in wires])[order]
        ids = np.concatenate([np.full(len(w.times), w.layout.frame_id.can_id, np.uint32) for w in wires])
        wide = [w.layout.frame_id.is_extended for w in wires]
        flags = np.concatenate(
            [np.full(len(w.times), EXTENDED if e else 0, np.uint8) for w, e in zip(wires, wide, strict=True)]
        )
        channel = np.concatenate([np.full(len(w.times), w.channel, np.uint8) for w in wires])
        length = np.concatenate([np.full(len(w.times), w.layout.length, np.uint8) for w in wires])[order]
        data = words.astype("<u8").view(np.uint8)
        return Capture(
            "made.log",
            ("can0", "can1"),
            (START + np.round(times[order] * 1e9)).astype(np.int64),
            ids[order],
            flags[order],
            channel[order],
            length,
            np.arange(len(words), dtype=np.int64) * 8,
            data,
        )


def walk(
    rng: np.random.Generator, times: NDArray[np.float64], width: int, is_signed: bool
) -> NDArray[np.int64]:
    """A quantity that goes up and down smoothly, with some noise, over part of its range."""
    span = (1 << width) - 1
    grid = np.arange(0, times[-1] + 2 if len(times) else 2, 1.0)
    steps = rng.normal(0, 1, len(grid))
    smooth = np.convolve(np.cumsum(steps), np.ones(5) / 5, "same")
    smooth -= smooth.min()
    smooth /= max(smooth.max(), 1e-9)
    part = rng.uniform(0.02, 0.6)
    values = np.interp(times, grid, smooth) * part * span + rng.uniform(0, 1 - part) * span
    values = np.round(values + rng.normal(0, rng.choice([0, 0.5, 2]), len(times)))
    values = np.clip(values, 0, span).astype(np.int64)
    return values ^ (1 << width - 1) if is_signed else values


def presses(
    rng: np.random.Generator, count: int, begin: float, *, least: float = 0.6
) -> tuple[tuple[float, float], ...]:
    """A person's presses: of different lengths, with pauses of different lengths."""
    found = []
    time = begin + rng.uniform(1.0, 4.0)
    for _ in range(count):
        held = rng.uniform(least, 4.0)
        found.append((time, time + held))
        time += held + rng.uniform(2.0, 7.0)
    return tuple(found)


def noted(
    rng: np.random.Generator, role: str, worked: Sequence[tuple[float, float]], error: float = 0.4
) -> list[FindMark]:
    """A person's marks: each edge off by up to ``error`` s."""
    marks = []
    for begin, end in worked:
        a, b = begin + rng.uniform(-error, error), end + rng.uniform(-error, error)
        if b - a < 0.1:
            b = a + 0.1
        marks.append(FindMark(role, "active", max(a, 0.0), b))
    return marks
