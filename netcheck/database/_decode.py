"""Every signal of a capture as a series of values."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from fnmatch import fnmatchcase
from itertools import groupby
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from netcheck import tables
from netcheck._compile import kernels
from netcheck.bits import last_byte_needed
from netcheck.capture import Capture, cores
from netcheck.database._extract import (
    Indices,
    as_raw,
    as_value,
    field_row,
    group_frames,
    payloads,
    select,
    work_words,
)
from netcheck.database._model import Database, Message, Signal
from netcheck.errors import NoSuchSignalError, UsageError
from netcheck.records import dataclass
from netcheck.words import counted

_KERNELS: Final = kernels("netcheck.database._kernels")
_MOST_MEANT: Final = 3
LEAST_SHARED: Final = 50_000  # frames, from which on threads are worth their start


@dataclass(frozen=True, eq=False, repr=False)
class Series(tables.Tabular):
    """One signal over time: the n frames that carry it, in file order.

    time_ns:  int64[n], as in the capture
    raw:      n raw values, exact: int64, uint64 (64 bits without a sign) or float64 (float signals)
    value:    float64[n], physical, in ``unit``
    channel:  uint8[n], index into ``channels``
    frame:    int64[n], number of the frame in the capture
    labels:   label of a raw value, where the DBC has one
    frames:   frames of the message in all, on the channels asked for
    short:    frames of the message that were too short to hold the signal, or the multiplexer it hangs on
    start_ns: time of the first frame of what was decoded, of whatever message: where seconds count from

    The arrays are shared between series and read-only.
    """

    message: str
    signal: str
    unit: str
    time_ns: NDArray[np.int64]
    raw: NDArray[Any]
    value: NDArray[np.float64]
    channel: NDArray[np.uint8]
    frame: Indices
    channels: tuple[str, ...]
    labels: Mapping[int, str]
    frames: int
    short: int
    start_ns: int = 0

    def __len__(self) -> int:
        return len(self.raw)

    def __repr__(self) -> str:
        text = f"{self.message}.{self.signal}: {counted(len(self), 'value')}"
        if len(self):
            low, high = (f"{value:g}" for value in (self.value.min(), self.value.max()))
            span = float(self.time_ns.max() - self.time_ns.min()) / 1e9
            text += f", {low} to {high} {self.unit}".rstrip() + f", {span:.1f} s"
        return f"<Series {text}>"

    def take(self, chosen: NDArray[np.bool_]) -> Series:
        """The samples that are chosen, bool[n]; ``frames`` and ``short`` stay those of all."""
        if chosen.all():
            return self
        columns = {
            name: getattr(self, name)[chosen] for name in ("time_ns", "raw", "value", "channel", "frame")
        }
        for column in columns.values():
            column.flags.writeable = False
        return replace(self, **columns)

    def label(self, index: int) -> str:
        """The label of sample ``index``, "" if its raw value has none."""
        return self.labels.get(self.raw[index].item(), "")

    @property
    def seconds(self) -> NDArray[np.float64]:
        """float64[n]: times from the first frame of what was decoded."""
        return (self.time_ns - self.start_ns) / 1e9

    def _table(self) -> dict[str, tables.Column]:
        different, inverse = np.unique(self.raw, return_inverse=True)
        texts = [self.labels.get(raw) for raw in different.tolist()]
        names = list(dict.fromkeys(text for text in texts if text is not None))
        codes = np.array([-1 if text is None else names.index(text) for text in texts], np.int32)
        return {
            "time": tables.TimeColumn(self.time_ns),
            "channel": tables.NameColumn(self.channel.astype(np.int32), self.channels),
            "raw": self.raw,
            "value": self.value,
            "label": tables.NameColumn(codes[inverse] if len(codes) else codes, names),
        }

    def plot(self, axes: Any = None) -> Any:
        """The values over the seconds, as steps, into these axes of matplotlib or into new ones.

        Returns the axes. States have their labels there. Raises UsageError where matplotlib is not installed.
        """
        if axes is None:
            axes = tables.library("matplotlib.pyplot", "plot", "plot").figure().add_subplot()
        axes.step(self.seconds, self.value, where="post", label=f"{self.message}.{self.signal}")
        axes.set_xlabel("s")
        axes.set_ylabel(f"{self.signal} ({self.unit})" if self.unit else self.signal)
        raws, first = np.unique(self.raw, return_index=True)
        ticks = [(self.value[at], self.labels.get(raw)) for raw, at in zip(raws.tolist(), first, strict=True)]
        if ticks and all(label for _, label in ticks):
            axes.set_yticks([value for value, _ in ticks], [label for _, label in ticks])
        return axes


def decode(
    capture: Capture, database: Database, signals: str = "*", *, channel: str | None = None
) -> Mapping[tuple[str, str], Series]:
    """Series by (message name, signal name), in DBC order; also of signals that never came (no samples).

    signals: pattern with ``*``, ``?`` and ``[…]`` for signal names or for "Message.Signal", in any case
    channel: only frames of this channel; by default of all

    Raises UsageError for a pattern that fits no signal and for a channel the capture does not have. A signal
    that is not in the mapping raises NoSuchSignalError, a KeyError.
    """
    chosen = choose(database, signals)
    frames = frames_by_message(capture, database, channel)

    def read(pair: tuple[Message, tuple[Signal, ...]]) -> list[_Block]:
        message, wanted = pair
        return _blocks(capture, message, wanted, frames[message.name])

    if len(capture) < LEAST_SHARED:
        found = [read(pair) for pair in chosen]
    else:  # the kernels run without the interpreter lock
        with ThreadPoolExecutor(cores(), "netcheck-decode") as threads:
            found = list(threads.map(read, chosen))
    return _Decoded(capture, chosen, found)


class _Decoded(Mapping[tuple[str, str], Series]):
    """All values are there; a series around its own is made when it is asked for.

    Says what there is where a signal is asked for that is not there.
    """

    def __init__(
        self,
        capture: Capture,
        chosen: Iterable[tuple[Message, tuple[Signal, ...]]],
        found: Iterable[Iterable[_Block]],
    ) -> None:
        """found: per message that was chosen."""
        self._file = capture.channels, int(capture.time_ns[0]) if len(capture) else 0
        self._places: dict[tuple[str, str], tuple[_Block, int]] = {}
        self._made: dict[tuple[str, str], Series] = {}
        for (message, signals), blocks in zip(chosen, found, strict=True):
            name = message.name
            places = {
                signal.name: (block, row) for block in blocks for row, signal in enumerate(block.signals)
            }
            self._places |= {(name, signal.name): places[signal.name] for signal in signals}

    def __len__(self) -> int:
        return len(self._places)

    def __iter__(self) -> Iterator[tuple[str, str]]:
        return iter(self._places)

    def __contains__(self, key: object) -> bool:
        return key in self._places

    def __getitem__(self, key: tuple[str, str]) -> Series:
        __tracebackhide__ = True  # for pytest: the caller's line is what matters
        series = self._made.get(key)
        if series is None:
            if key not in self._places:
                raise self._no_such(key)
            block, row = self._places[key]
            series = self._made[key] = block.series(row, key[0], *self._file)
        return series

    def __repr__(self) -> str:
        messages = len({message for message, _ in self})
        values = sum(len(block.columns.frame) for block, _ in self._places.values())
        what = f"{counted(len(self), 'signal')} of {counted(messages, 'message')}"
        return f"<decoded: {what}, {counted(values, 'value')}>"

    def _no_such(self, key: object) -> NoSuchSignalError:
        parts = key if isinstance(key, tuple) else (key,)
        asked = ".".join(str(part) for part in parts)
        names = {f"{message}.{signal}": (message, signal) for message, signal in self}
        if asked in names:
            return NoSuchSignalError(f"{key!r} is not the key of a series", remedy=f"write {names[asked]}")
        near = _alike(asked, names)
        remedy = f"did you mean {' or '.join(str(names[name]) for name in near)}?" if near else ""
        return NoSuchSignalError(f"no signal {key!r} was decoded", remedy=remedy)


def _alike(asked: str, names: Iterable[str]) -> list[str]:
    """Names that may be meant: those of a signal of that name in any message, else the one most like it."""
    folded = {name: name.casefold() for name in names}
    wanted = asked.casefold()
    same = [name for name, fold in folded.items() if wanted in {fold, fold.rpartition(".")[2]}]
    if same:
        return same[:_MOST_MEANT]
    near = difflib.get_close_matches(wanted, folded.values(), n=1)
    return [name for name, fold in folded.items() if fold in near][:1]


def choose(database: Database, signals: str) -> list[tuple[Message, tuple[Signal, ...]]]:
    """The messages with signals that fit the pattern, and those signals, in DBC order."""
    if signals == "*":
        return [(message, message.signals) for message in database.messages if message.signals]
    chosen, pattern = [], signals.casefold()
    for message in database.messages:
        wanted = tuple(signal for signal in message.signals if _fits(message, signal, pattern))
        if wanted:
            chosen.append((message, wanted))
    if not chosen:
        names = sorted({signal.name for message in database.messages for signal in message.signals})
        near = difflib.get_close_matches(signals.rpartition(".")[2], names, n=3)
        remedy = f"did you mean {', '.join(near)}?" if near else "use * for all"
        raise UsageError(f"no signal of {', '.join(database.files)} matches {signals!r}", remedy=remedy)
    return chosen


def _fits(message: Message, signal: Signal, pattern: str) -> bool:
    """pattern: case-folded."""
    name = signal.name.casefold()
    return fnmatchcase(name, pattern) or fnmatchcase(f"{message.name.casefold()}.{name}", pattern)


def frames_by_message(capture: Capture, database: Database, channel: str | None) -> Mapping[str, Indices]:
    """Frame numbers by message name, of one channel or of all."""
    frames = group_frames(capture, database)
    if channel is None:
        return frames
    if channel not in capture.channels:
        there = ", ".join(capture.channels)
        raise UsageError(f"{capture.file} has no channel {channel}", remedy=f"it has {there}")
    number = capture.channels.index(channel)
    return {name: indices[capture.channel[indices] == number] for name, indices in frames.items()}


def _blocks(
    capture: Capture, message: Message, signals: tuple[Signal, ...], indices: Indices
) -> list[_Block]:
    """Some signals of one message, decoded from its frames ``indices``: those of the same frames together."""
    found = []
    for paged in _by_pages(signals):
        if paged[0].pages:
            selected, readable = select(capture, message, paged[0], indices)
            there, unreadable = indices[selected], int(np.count_nonzero(~readable))
        else:
            there, unreadable = indices, 0
        lengths = capture.length[there]
        for last, alike in _by_last_byte(paged, int(lengths.min(initial=255))):
            carriers = there if last is None else there[lengths > last]
            short = unreadable + len(there) - len(carriers)
            found.append(_Block(alike, _read(capture, alike, carriers), len(indices), short))
    return found


def _by_pages(signals: tuple[Signal, ...]) -> Iterator[tuple[Signal, ...]]:
    """Signals that hang on the same multiplexer pages."""
    if not any(signal.pages for signal in signals):
        yield signals
        return
    for _, group in groupby(sorted(signals, key=_pages_key), key=_pages_key):
        yield tuple(group)


def _pages_key(signal: Signal) -> tuple[tuple[str, tuple[int, ...]], ...]:
    return tuple((page.multiplexer, page.values) for page in signal.pages)


def _by_last_byte(signals: Iterable[Signal], shortest: int) -> Iterator[tuple[int | None, list[Signal]]]:
    """Signals that the same frames are long enough for: None for all frames, else the last byte they need."""
    buckets: dict[int | None, list[Signal]] = {}
    for signal in signals:
        last = last_byte_needed(signal.start, signal.width, signal.is_big_endian)
        buckets.setdefault(None if last < shortest else last, []).append(signal)
    yield from buckets.items()


class _Columns(NamedTuple):
    """What the frames of a block hold, read-only. bits, value: a row for each signal."""

    time_ns: NDArray[np.int64]
    channel: NDArray[np.uint8]
    frame: Indices
    bits: NDArray[np.uint64]
    value: NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class _Block:
    """Signals of a message that the same frames carry. frames, short: as of a ``Series``."""

    signals: list[Signal]
    columns: _Columns
    frames: int
    short: int

    def series(self, row: int, message: str, channels: tuple[str, ...], start_ns: int) -> Series:
        """The series of one of the signals."""
        signal, columns = self.signals[row], self.columns
        raw = as_raw(columns.bits[row], signal)
        value = as_value(raw, signal) if signal.is_float else columns.value[row]
        raw.flags.writeable = value.flags.writeable = False
        return Series(
            message=message,
            signal=signal.name,
            unit=signal.unit,
            time_ns=columns.time_ns,
            raw=raw,
            value=value,
            channel=columns.channel,
            frame=columns.frame,
            channels=channels,
            labels=signal.labels,
            frames=self.frames,
            short=self.short,
            start_ns=start_ns,
        )


def _read(capture: Capture, signals: list[Signal], carriers: Indices) -> _Columns:
    bits = np.empty((len(signals), len(carriers)), np.uint64)
    values = np.empty(bits.shape, np.float64)
    _KERNELS.read_fields(
        payloads(capture),
        carriers,
        np.array([field_row(signal) for signal in signals], np.int64),
        np.array([_scaling(signal) for signal in signals], np.float64),
        work_words(),
        bits,
        values,
    )
    columns = _Columns(
        capture.time_ns.take(carriers), capture.channel.take(carriers), carriers.view(), bits, values
    )
    for column in columns:
        column.flags.writeable = False
    return columns


def _scaling(signal: Signal) -> tuple[float, float]:
    """Factor and offset for the kernel, which knows integers only: nothing to scale in a float signal."""
    return (0.0, 0.0) if signal.is_float else (signal.scale, signal.offset)
