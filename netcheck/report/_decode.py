"""What a capture holds of a DBC's signals, as a table for people."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import field
from decimal import Decimal
from typing import Final

import numpy as np

from netcheck.database import Database, Message, Series
from netcheck.network import FrameId, Timing
from netcheck.records import dataclass
from netcheck.report._numbers import sent_at_changes
from netcheck.report._wrap import cells, clean, wrap
from netcheck.words import counted, path_text

_MOST_STATES: Final = 24  # different raw values that are counted by label; with more it is a quantity
_NAME: Final = 25  # columns of a signal's name at 80; a longer one gets a line of its own
_NUMBER: Final = 11
_LEAST_WIDTH: Final = 80
_SAMPLES: Final = 9
_MOST_LISTED: Final = 20  # lines or names of a list of notes


@dataclass
class SignalSummary:
    """One signal over a whole capture, gathered part by part.

    states: samples by raw value, of signals with labels; None once there are too many
    """

    message: Message
    signal: str
    unit: str
    labels: Mapping[int, str]
    decimals: int | None  # of its physical values; None for float signals
    samples: int = 0
    frames: int = 0
    short: int = 0
    minimum: float = math.nan
    maximum: float = math.nan
    last: float = math.nan
    last_raw: int | float = 0
    channels: list[str] = field(default_factory=list)
    states: dict[int | float, int] | None = field(default_factory=dict)

    def add(self, series: Series) -> None:
        """Count a stretch of the capture in."""
        self.frames += series.frames
        self.short += series.short
        if not len(series):
            return
        self.samples += len(series)
        self.minimum = float(np.fmin(self.minimum, np.fmin.reduce(series.value)))
        self.maximum = float(np.fmax(self.maximum, np.fmax.reduce(series.value)))
        self.last, self.last_raw = float(series.value[-1]), series.raw[-1].item()
        for number in np.unique(series.channel).tolist():
            if series.channels[number] not in self.channels:
                self.channels.append(series.channels[number])
        if self.labels and self.states is not None:
            raws, counts = np.unique(series.raw, return_counts=True)
            for raw, count in zip(raws.tolist(), counts.tolist(), strict=True):
                self.states[raw] = self.states.get(raw, 0) + count
            if len(self.states) > _MOST_STATES:
                self.states = None


@dataclass(frozen=True)
class DecodeHead:
    """What was decoded with what.

    skipped:  lines of the capture that were not frames
    warnings: of the capture and of the DBC files
    """

    file: str
    dbc: tuple[str, ...]
    frames: int
    channels: tuple[str, ...]
    skipped: int
    warnings: tuple[str, ...]


def summarise(
    database: Database, parts: Iterable[Mapping[tuple[str, str], Series]]
) -> tuple[SignalSummary, ...]:
    """Go through the parts of a capture once and keep what the table needs, in DBC order."""
    found: dict[tuple[str, str], SignalSummary] = {}
    messages = {message.name: message for message in database.messages}
    for part in parts:
        for key, series in part.items():
            summary = found.get(key)
            if summary is None:
                summary = found[key] = _empty(messages[series.message], series)
            summary.add(series)
    return tuple(found.values())


def _empty(message: Message, series: Series) -> SignalSummary:
    signal = message.signal(series.signal)
    decimals = None if signal is None or signal.is_float else _decimals(signal.scale, signal.offset)
    return SignalSummary(message, series.signal, series.unit, series.labels, decimals)


def _decimals(*numbers: float) -> int:
    """Decimals that show a sum of multiples of these numbers in full, 6 at most."""
    exponents = [Decimal(repr(number)).normalize().as_tuple().exponent for number in numbers]
    return min(6, max(0, *(-exponent for exponent in exponents if isinstance(exponent, int))))


def decode_text(
    head: DecodeHead,
    summary: Sequence[SignalSummary],
    width: int = 80,
    timings: Mapping[FrameId, Timing] | None = None,
) -> str:
    """The table: a block a message, a line a signal, then what was not there.

    timings: of the ids, to tell which are sent at changes
    width: columns; a table narrower than 80 is written at 80
    """
    width = max(width, _LEAST_WIDTH)
    by_message: dict[str, list[SignalSummary]] = {}
    for signal in summary:
        by_message.setdefault(signal.message.name, []).append(signal)
    absent = []
    lines = _title(head, list(by_message.values()), width)
    for signals in by_message.values():
        if signals[0].frames:
            message = signals[0].message
            timing = (timings or {}).get(FrameId(message.can_id, message.is_extended))
            lines += ["", *_message_lines(signals, width, timing)]
        else:
            absent.append(signals[0].message)
    lines += _short_lines(summary, width)
    if absent:
        names = [f"{clean(message.name)} ({_identifier(message)})" for message in absent]
        lines += _listed(f"Not in the capture: {counted(len(absent), 'message')}", names, width)
    if known := _to_know(head):
        lines += ["", "To know", *_bullets(known, width)]
    return "\n".join(lines) + "\n"


def _title(head: DecodeHead, messages: Sequence[Sequence[SignalSummary]], width: int) -> list[str]:
    channels = ", ".join(clean(name) for name in head.channels)
    came = sum(1 for signals in messages if signals[0].frames)
    values = sum(signal.samples for signals in messages for signal in signals)
    return [
        *wrap(f"{path_text(head.file)}: {counted(head.frames, 'frame')} on {channels}", width),
        *wrap(f"read with {', '.join(head.dbc)}", width),
        f"{came:,} of {counted(len(messages), 'message')} came, {counted(values, 'value')}",
    ]


def _to_know(head: DecodeHead) -> list[str]:
    texts = [f"{counted(head.skipped, 'line')} skipped that hold no frame"] if head.skipped else []
    left_out = len(head.warnings) - _MOST_LISTED
    more = [f"and {counted(left_out, 'more warning')}"] if left_out > 0 else []
    return [*texts, *head.warnings[:_MOST_LISTED], *more]


def _message_lines(signals: Sequence[SignalSummary], width: int, timing: Timing | None) -> list[str]:
    message, frames = signals[0].message, signals[0].frames
    channels = list(dict.fromkeys(channel for signal in signals for channel in signal.channels))
    where = f" on {', '.join(clean(channel) for channel in channels)}" if channels else ""
    about = f"{clean(message.name)}  {_identifier(message)}, {counted(frames, 'frame')}{where}"
    about += f", {sent_at_changes(timing)}" if timing and timing.at_changes else ""
    head = "  " + "signal".ljust(_name_width(width)) + "samples".rjust(_SAMPLES)
    head += "".join(title.rjust(_NUMBER) for title in ("min", "max", "last")) + "  unit"
    lines = [*wrap(about, width), head]
    for signal in signals:
        lines += _signal_lines(signal, width)
    return lines


def _name_width(width: int) -> int:
    return max(_NAME, _NAME + (width - 80) // 2)


def _signal_lines(signal: SignalSummary, width: int) -> list[str]:
    name, room = clean(signal.signal), _name_width(width)
    lead, lines = "  " + name.ljust(room), []
    if cells(name) > room:
        lines, lead = ["  " + line for line in wrap(name, width - 2)], " " * (room + 2)
    lead += f"{signal.samples:,}".rjust(_SAMPLES)
    left = width - len(lead) - 2
    if not signal.samples:
        text = "every frame is too short" if signal.short == signal.frames else "its page never came"
        return [*lines, f"{lead}  {text}"]
    if signal.labels and signal.states and _are_states(signal):
        return [*lines, f"{lead}  {_cut(_states(signal, left), left)}"]
    numbers = (signal.minimum, signal.maximum, signal.last)
    shown = "".join(_shown(number, signal.decimals).rjust(_NUMBER) for number in numbers)
    unit = clean(signal.labels.get(_key(signal.last_raw), "") or signal.unit)
    return [*lines, f"{lead}{shown}  {_cut(unit, left - 3 * _NUMBER)}".rstrip()]


def _are_states(signal: SignalSummary) -> bool:
    """More of what was seen has a label than has none."""
    seen = signal.states or {}
    return 2 * sum(_key(raw) in signal.labels for raw in seen) > len(seen)


def _key(raw: int | float) -> int:
    return int(raw) if math.isfinite(raw) else -1


def _states(signal: SignalSummary, room: int) -> str:
    """``700× P, 220× R; last R``: as many states as there is room for, in the order of their raw values."""
    seen = sorted((signal.states or {}).items())
    last = f"; last {_label(signal, signal.last_raw)}"
    texts = [f"{count:,}× {_label(signal, raw)}" for raw, count in seen]
    shown = texts
    while len(shown) > 1 and cells(_joined(shown, len(texts)) + last) > room:
        shown = shown[:-1]
    return _joined(shown, len(texts)) + (last if len(texts) > 1 else "")


def _joined(shown: Sequence[str], total: int) -> str:
    more = [f"{total - len(shown)} more"] if len(shown) < total else []
    return ", ".join([*shown, *more])


def _label(signal: SignalSummary, raw: int | float) -> str:
    return clean(signal.labels.get(_key(raw), "")) or str(raw)


def _shown(number: float, decimals: int | None) -> str:
    text = f"{number:.5g}" if decimals is None else f"{number:.{decimals}f}"
    if text.strip("-0.") == "":
        text = text.removeprefix("-")
    return text if len(text) < _NUMBER else f"{number:.4g}"


def _short_lines(summary: Sequence[SignalSummary], width: int) -> list[str]:
    texts = [
        f"{clean(signal.message.name)}.{clean(signal.signal)}: {signal.short:,} of {signal.frames:,} frames"
        for signal in summary
        if signal.short
    ]
    if not texts:
        return []
    left_out = len(texts) - _MOST_LISTED
    more = [f"and {counted(left_out, 'more signal')}"] if left_out > 0 else []
    return ["", "Frames too short for the signal", *_bullets([*texts[:_MOST_LISTED], *more], width)]


def _bullets(texts: Sequence[str], width: int) -> list[str]:
    lines = []
    for text in texts:
        first, *rest = wrap(text, width - 4)
        lines += [f"  - {first}", *(f"    {line}" for line in rest)]
    return lines


def _listed(title: str, names: Sequence[str], width: int) -> list[str]:
    left_out = len(names) - _MOST_LISTED
    more = f" and {left_out:,} more" if left_out > 0 else ""
    return ["", title, *(f"  {line}" for line in wrap(", ".join(names[:_MOST_LISTED]) + more, width - 2))]


def _identifier(message: Message) -> str:
    return f"0x{message.can_id:0{8 if message.is_extended else 3}X}"


def _cut(text: str, room: int) -> str:
    if cells(text) <= room:
        return text
    while text and cells(text) >= room:
        text = text[:-1]
    return text + "…"
