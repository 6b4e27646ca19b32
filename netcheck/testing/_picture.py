"""Small pictures in text: a signal over time, gaps by their length."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck.database import Series

WIDTH: Final = 64  # columns of a line of time
_BLOCKS: Final = "▁▂▃▄▅▆▇█"
_LETTERS: Final = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_MOST_STATES: Final = 12  # different values that are shown by letters
_SILENT: Final = "."
_NS: Final = 1_000_000_000


def seconds_of(series: Series) -> NDArray[np.float64]:
    """Times of the samples in seconds from the first frame of the capture."""
    return (series.time_ns - series.start_ns) / _NS


def name_of(series: Series, raw: int | float) -> str:
    """A raw value as people read it: its label, or the physical value of the nearest sample."""
    label = series.labels.get(int(raw), "") if float(raw).is_integer() else ""
    if label:
        return label
    found = np.flatnonzero(series.raw == raw)
    return value_text(series, float(series.value[found[0]])) if len(found) else f"raw {raw:g}"


def value_text(series: Series, value: float) -> str:
    """A physical value with its unit."""
    return f"{value:g} {series.unit}".rstrip()


def timeline(series: Series, begin: float, end: float, *, at: float | None = None) -> list[str]:
    """The signal from one second to another: states as letters, numbers as bars, and a pointer.

    A column shows the last value in its slice of time, that of ``at`` the value at just that time; a full
    stop where no frame came.
    """
    times = seconds_of(series)
    inside = np.flatnonzero((times >= begin) & (times <= end))
    if not len(inside):
        return [f"no value from {begin:.3f} s to {end:.3f} s"]
    states = np.unique(series.raw[inside])
    signs, legend = _signs(series, states) if len(states) <= _MOST_STATES else ({}, _scale(series, inside))
    width = (end - begin) / WIDTH or 1.0
    columns = [_SILENT] * WIDTH
    low, high = float(series.value[inside].min()), float(series.value[inside].max())
    for i in inside.tolist():
        column = min(int((times[i] - begin) / width), WIDTH - 1)
        columns[column] = signs.get(series.raw[i].item()) or _bar(float(series.value[i]), low, high)
    columns = _held(columns, times[inside], width)
    if at is None:
        return [ruler(begin, end), "".join(columns), legend]
    before = inside[times[inside] <= at]
    column = min(int((at - begin) / width), WIDTH - 1)
    if len(before) and columns[column] != _SILENT:
        last = before[-1]
        columns[column] = signs.get(series.raw[last].item()) or _bar(float(series.value[last]), low, high)
    return [ruler(begin, end), "".join(columns), pointer(column, at), legend]


def ruler(begin: float, end: float) -> str:
    """The two ends of a line of time."""
    left, right = f"{begin:.3f} s", f"{end:.3f} s"
    return left + right.rjust(WIDTH - len(left))


def pointer(column: int, at: float) -> str:
    """``^ 12.400 s`` below its column."""
    text = f"{at:.3f} s"
    if column + len(text) + 2 > WIDTH:
        return " " * max(column - len(text) - 1, 0) + f"{text} ^"
    return " " * column + f"^ {text}"


def mark_spans(marks: Sequence[tuple[float, float]], begin: float, end: float) -> str:
    """``[====]`` where marks are."""
    columns = [" "] * WIDTH
    width = (end - begin) / WIDTH or 1.0
    for first, last in marks:
        left = min(max(int((first - begin) / width), 0), WIDTH - 1)
        right = min(max(int((last - begin) / width), left), WIDTH - 1)
        columns[left : right + 1] = "=" * (right - left + 1)
        columns[left] = "["
        columns[right] = "]"
    return "".join(columns).rstrip()


def histogram(gaps_ms: NDArray[np.float64], low: float, high: float) -> list[str]:
    """How many gaps are shorter than wanted, as wanted, longer: one line each, with a bar."""
    groups = [
        (f"under {low:g} ms", int(np.count_nonzero(gaps_ms < low))),
        (f"{low:g} to {high:g} ms", int(np.count_nonzero((gaps_ms >= low) & (gaps_ms <= high)))),
        (f"over {high:g} ms", int(np.count_nonzero(gaps_ms > high))),
    ]
    most = max(count for _, count in groups) or 1
    wide = max(len(name) for name, _ in groups)
    return [
        f"{name.rjust(wide)}  {f'{count:,}'.rjust(len(f'{most:,}'))} {'#' * -(-30 * count // most)}".rstrip()
        for name, count in groups
    ]


def counts(series: Series) -> str:
    """How often each value came, or from where to where they reach."""
    if not len(series):
        return "no value"
    values, numbers = np.unique(series.raw, return_counts=True)
    if len(values) <= _MOST_STATES:
        return ", ".join(
            f"{count:,} × {name_of(series, raw.item())}" for raw, count in zip(values, numbers, strict=True)
        )
    low, high = float(series.value.min()), float(series.value.max())
    return f"{len(series):,} values, {value_text(series, low)} to {value_text(series, high)}"


def _signs(series: Series, states: NDArray[np.generic]) -> tuple[Mapping[int | float, str], str]:
    signs: dict[int | float, str] = {}
    for state in states.tolist():
        own = [letter for letter in name_of(series, state).upper() if letter.isascii() and letter.isalnum()]
        signs[state] = next(sign for sign in (*own, *_LETTERS) if sign not in signs.values())
    return signs, ", ".join(f"{sign} = {name_of(series, state)}" for state, sign in signs.items())


def _scale(series: Series, inside: NDArray[np.intp]) -> str:
    low, high = float(series.value[inside].min()), float(series.value[inside].max())
    return f"{_BLOCKS[0]} = {value_text(series, low)}, {_BLOCKS[-1]} = {value_text(series, high)}"


def _bar(value: float, low: float, high: float) -> str:
    if not high > low:
        return _BLOCKS[0]
    return _BLOCKS[min(int((value - low) / (high - low) * len(_BLOCKS)), len(_BLOCKS) - 1)]


def _held(columns: list[str], times: NDArray[np.float64], width: float) -> list[str]:
    """Where columns are narrower than the signal's period, the value is held; a real silence shows."""
    period = float(np.median(np.diff(times))) if len(times) > 1 else 0.0
    reach = int(1.5 * period / width)
    shown = list(columns)
    last = None
    for number, sign in enumerate(columns):
        if sign != _SILENT:
            last = number
        elif last is not None and number - last <= reach:
            shown[number] = columns[last]
    return shown
