"""What payloads do: counters, checksums and signals known from before, followed through a capture."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import field, replace
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck.bits import span
from netcheck.capture import Capture
from netcheck.database import Message, Signal, extract_all
from netcheck.network import ChecksumFinding, ChecksumKind, Counter, FrameId, NumberedParts
from netcheck.prove._change_model import (
    VehicleState,
)
from netcheck.prove._edges import Stretch
from netcheck.records import dataclass

WINDOW_NS: Final = 10_000_000_000
CHECKSUM_KINDS: Final = (
    ChecksumKind.CRC_J1850,
    ChecksumKind.CRC_2F,
    ChecksumKind.SUM,
    ChecksumKind.SUM_COMPLEMENT,
    ChecksumKind.XOR,
)
KINDS: Final = len(CHECKSUM_KINDS)
_POLYNOMIALS: Final = {ChecksumKind.CRC_J1850: 0x1D, ChecksumKind.CRC_2F: 0x2F}


@dataclass(frozen=True)
class PayloadTarget:
    """What is followed of one id: what was found before the fitting, and the signals that its DBC knows.

    length: payload bytes that the checksum is about
    pause_ns: steps of the counter across a longer gap do not count
    changing: bytes that changed before; a signal in others did not move
    restless: signals that moved before, each followed only until it moves; None: all are, to the end
    """

    counter: Counter | None = None
    checksum: ChecksumFinding | None = None
    length: int = 0
    pause_ns: int = 1_000_000_000
    message: Message | None = None
    changing: frozenset[int] = frozenset()
    restless: frozenset[str] | None = None

    @cached_property
    def signals(self) -> tuple[Signal, ...]:
        """Signals that may get stuck: not those in the byte of the counter or the checksum."""
        taken = {self.counter.bit // 8} if self.counter else set()
        taken |= {self.checksum.byte} if self.checksum else set()
        signals = self.message.signals if self.message else ()
        return tuple(
            signal
            for signal in signals
            if taken.isdisjoint(_bytes(signal))
            and not self.changing.isdisjoint(_bytes(signal))
            and (self.restless is None or signal.name in self.restless)
        )

    def open_signals(self, seen: PayloadSeen) -> tuple[Signal, ...]:
        """Those about which something is still to be told."""
        if self.restless is None:
            return self.signals
        moved = {name for name, entry in seen.signals.items() if entry.has_moved}
        return tuple(signal for signal in self.signals if signal.name not in moved)

    def after(self, seen: PayloadSeen | None) -> PayloadTarget:
        """The same for the captures from after the fitting: what is looked for is a signal that got stuck."""
        signals = seen.signals.items() if seen is not None else ()
        restless = frozenset(name for name, entry in signals if any(entry.moved.values()))
        return replace(self, restless=restless)


def _bytes(signal: Signal) -> range:
    place = span(signal.start, signal.width, signal.is_big_endian)
    return range(place.first, place.last + 1)


@dataclass
class _OpenWindow:
    """Ten seconds of one state that go on. low, high: in the stretch that came last."""

    number: int
    frames: int
    stretch: int
    low: float
    high: float
    has_moved: bool


@dataclass
class SignalSeen:
    """One signal: in each state, windows of ten seconds and those in which it moved; extremes of all.

    frames: that carry it, of those with a number for a value; turns: those that brought another value
    """

    windows: dict[VehicleState, int] = field(default_factory=dict)
    moved: dict[VehicleState, int] = field(default_factory=dict)
    low: float = float("inf")
    high: float = float("-inf")
    frames: int = 0
    turns: int = 0
    _open: dict[VehicleState, _OpenWindow] = field(default_factory=dict)

    @property
    def has_moved(self) -> bool:
        """Whether it took two values."""
        return self.high > self.low

    def add(self, state: VehicleState, piece: _OpenWindow) -> None:
        """Take the values in a piece of a window of a state; windows of one state come in order.

        What changed between two stretches of a state, nobody saw in that state.
        """
        window = self._open.get(state)
        if window is None or window.number != piece.number:
            self._close(state)
            self._open[state] = piece
            return
        window.frames += piece.frames
        if window.stretch == piece.stretch:
            piece.low, piece.high = min(window.low, piece.low), max(window.high, piece.high)
        window.stretch, window.low, window.high = piece.stretch, piece.low, piece.high
        window.has_moved |= piece.high > piece.low

    def _close(self, state: VehicleState) -> None:
        """Count the open window, if the signal came in it at least twice."""
        window = self._open.pop(state, None)
        if window is not None and window.frames >= 2:
            self.windows[state] = self.windows.get(state, 0) + 1
            self.moved[state] = self.moved.get(state, 0) + window.has_moved

    def close(self) -> None:
        """No more values come."""
        for state in list(self._open):
            self._close(state)

    def join(self, other: SignalSeen) -> None:
        """Add what was seen on another channel or in another capture."""
        for state, count in other.windows.items():
            self.windows[state] = self.windows.get(state, 0) + count
            self.moved[state] = self.moved.get(state, 0) + other.moved[state]
        self.low, self.high = min(self.low, other.low), max(self.high, other.high)
        self.frames += other.frames
        self.turns += other.turns


@dataclass
class PayloadSeen:
    """What was seen of one id.

    steps, wrong, standing: of the counter; wrong steps are neither +1 nor 0
    residues: int64[kinds, 256], for each kind of checksum that the byte may hold, how many frames leave
              which value when it is taken off; one value where it fits
    signals:  by name
    parts:    what stands in parts that a first byte numbers
    """

    steps: int = 0
    wrong: int = 0
    standing: int = 0
    residues: NDArray[np.int64] = field(
        default_factory=lambda: np.zeros((len(CHECKSUM_KINDS), 256), np.int64)
    )
    signals: dict[str, SignalSeen] = field(default_factory=dict)
    parts: NumberedParts = field(default_factory=NumberedParts)

    def join(self, other: PayloadSeen) -> None:
        """Add what was seen on another channel or in another capture."""
        self.steps += other.steps
        self.wrong += other.wrong
        self.standing += other.standing
        self.residues = self.residues + other.residues
        for name, seen in other.signals.items():
            self.signals.setdefault(name, SignalSeen()).join(seen)
        self.parts.join(other.parts)


class PayloadMeter:
    """The ids of one channel while the chunks go by."""

    def __init__(self, targets: Mapping[FrameId, PayloadTarget], stretches: Sequence[Stretch]) -> None:
        self._targets = targets
        self._begins = np.array([stretch.begin_ns for stretch in stretches], np.int64)
        self._ends = np.array([stretch.end_ns for stretch in stretches], np.int64)
        spent: dict[VehicleState, int] = {}  # time in each state, which windows divide, whatever came between
        earlier = []
        for stretch in stretches:
            earlier.append(spent.get(stretch.state, 0))
            spent[stretch.state] = earlier[-1] + stretch.end_ns - stretch.begin_ns
        self._earlier = np.array(earlier, np.int64)
        self._states = [stretch.state for stretch in stretches]
        self._full = np.array([spent[state] // WINDOW_NS for state in self._states], np.int64)
        self.seen: dict[FrameId, PayloadSeen] = {}
        self._last: dict[FrameId, tuple[int, int]] = {}  # the counter's last value, and when

    def add(self, chunk: Capture, rows: NDArray[np.int64]) -> None:
        """Take data frames of the channel, in file order."""
        is_extended = chunk.is_extended[rows]
        for wide, own in ((False, rows[~is_extended]), (True, rows[is_extended])):
            key = chunk.can_id[own] if wide else chunk.can_id[own].astype(np.uint16)  # sorts in no time
            order = np.argsort(key, kind="stable")
            borders = np.flatnonzero(np.diff(key[order])) + 1
            for part in np.split(own[order], borders) if len(own) else ():
                self._take(chunk, FrameId(int(chunk.can_id[part[0]]), wide), part)

    def _take(self, chunk: Capture, frame_id: FrameId, rows: NDArray[np.int64]) -> None:
        seen = self.seen.setdefault(frame_id, PayloadSeen())
        seen.parts.take(chunk, rows)
        target = self._targets.get(frame_id)
        if target is None:
            return
        if target.counter is not None:
            self._count(chunk, frame_id, rows, target, target.counter)
        if target.checksum is not None:
            own = rows[chunk.length[rows] == target.length]
            if len(own):
                payloads = payloads_of(chunk, own, target.length)
                for number, kind in enumerate(CHECKSUM_KINDS):
                    left = residues(payloads, kind, target.checksum.byte)
                    seen.residues[number] += np.bincount(left, minlength=256)
        signals = target.open_signals(seen)
        if target.message is not None and signals:
            self._follow(chunk, rows, seen, target.message, signals)

    def _count(
        self,
        chunk: Capture,
        frame_id: FrameId,
        rows: NDArray[np.int64],
        target: PayloadTarget,
        counter: Counter,
    ) -> None:
        byte = counter.bit // 8
        own = rows[chunk.length[rows] > byte]
        if not len(own):
            return
        mask = (1 << counter.width) - 1
        value = chunk.data[chunk.start[own] + byte].astype(np.int64) >> counter.bit % 8 & mask
        time = chunk.time_ns[own]
        if frame_id in self._last:
            before, when = self._last[frame_id]
            value, time = np.concatenate([[before], value]), np.concatenate([[when], time])
        self._last[frame_id] = int(value[-1]), int(time[-1])
        step = np.diff(value) % counter.modulo
        step = step[np.abs(np.diff(time)) <= target.pause_ns]
        seen = self.seen[frame_id]
        seen.steps += len(step)
        seen.standing += int((step == 0).sum())
        seen.wrong += int((step > 1).sum())

    def _follow(
        self,
        chunk: Capture,
        rows: NDArray[np.int64],
        seen: PayloadSeen,
        message: Message,
        signals: Sequence[Signal],
    ) -> None:
        windows = self._windows(chunk.time_ns[rows])
        for signal, found in zip(signals, extract_all(chunk, message, signals, rows), strict=True):
            valid = found.carries & np.isfinite(found.value)
            if not valid.any():
                continue
            value, window = found.value[valid], windows[valid]
            entry = seen.signals.setdefault(signal.name, SignalSeen())
            entry.frames += len(value)
            entry.turns += int(np.count_nonzero(np.diff(value)))
            entry.low, entry.high = min(entry.low, float(value.min())), max(entry.high, float(value.max()))
            inside = window >= 0
            value, window = value[inside], window[inside]
            if not len(value):
                continue
            starts = np.concatenate([[0], np.flatnonzero(np.diff(window)) + 1])
            counts = np.diff([*starts.tolist(), len(window)]).tolist()
            lows = np.minimum.reduceat(value, starts).tolist()
            highs = np.maximum.reduceat(value, starts).tolist()
            for number, count, low, high in zip(window[starts].tolist(), counts, lows, highs, strict=True):
                window_number, stretch = divmod(number, len(self._states))
                piece = _OpenWindow(window_number, count, stretch, low, high, high > low)
                entry.add(self._states[stretch], piece)

    def _windows(self, time_ns: NDArray[np.int64]) -> NDArray[np.int64]:
        """int64[n]: window of each time, its number times the stretches plus the stretch; -1 for none."""
        if not len(self._begins):
            return np.full(len(time_ns), -1, np.int64)
        stretch = np.searchsorted(self._begins, time_ns, "right") - 1
        number = (self._earlier[stretch] + time_ns - self._begins[stretch]) // WINDOW_NS
        inside = (stretch >= 0) & (time_ns < self._ends[stretch]) & (number < self._full[stretch])
        return np.where(inside, number * len(self._states) + stretch, -1)

    def result(self) -> Mapping[FrameId, PayloadSeen]:
        """What was seen of each id, after the last chunk."""
        for seen in self.seen.values():
            for entry in seen.signals.values():
                entry.close()
        return self.seen


def payloads_of(chunk: Capture, rows: NDArray[np.int64], length: int) -> NDArray[np.uint8]:
    """uint8[n, length]: payloads of frames that all have that length."""
    places = chunk.start[rows][:, None] + np.arange(length)
    found: NDArray[np.uint8] = chunk.data[places]
    return found


def residues(payloads: NDArray[np.uint8], kind: ChecksumKind, byte: int) -> NDArray[np.int64]:
    """int64[n]: what is left when the checksum is taken off what it is made of.

    It is the same in every frame that fits, whatever the sender starts from: a CRC is linear.
    kind: one of CHECKSUM_KINDS; byte: where it stands
    """
    found: NDArray[np.int64]
    if kind in _POLYNOMIALS:
        table = _crc_table(_POLYNOMIALS[kind])
        crc = np.zeros(len(payloads), np.int64)
        for other in _others(payloads.shape[1], byte):
            crc = table[crc ^ payloads[:, other]]
        found = crc ^ payloads[:, byte]
        return found
    if kind is ChecksumKind.XOR:
        found = np.bitwise_xor.reduce(payloads, axis=1).astype(np.int64)
        return found
    total = payloads.sum(axis=1, dtype=np.int64)
    if kind is ChecksumKind.SUM:
        total = total - 2 * payloads[:, byte].astype(np.int64)
    found = total & 0xFF
    return found


def _others(length: int, byte: int) -> Iterator[int]:
    return (number for number in range(length) if number != byte)


def _crc_table(polynomial: int) -> NDArray[np.int64]:
    table: NDArray[np.int64] = np.arange(256, dtype=np.int64)
    for _ in range(8):
        table = np.where(table & 0x80, (table << 1 ^ polynomial) & 0xFF, table << 1)
    return table
