"""Signals over time: what the charts read, and a strip of each to see before anything is opened."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any, Final

import numpy as np
from markupsafe import Markup, escape

from netcheck.bits import span
from netcheck.traces import ChannelTrace, SignalTrace, Thinner, TraceMark
from netcheck.words import clean, counted

TICKS: Final = 10_000  # times are whole numbers of these a second
WIDTH: Final = 240.0  # of a strip, in its own units
HEIGHT: Final = 30.0
_EDGE: Final = 3.0  # above and below the line
_COLUMNS: Final = 480  # rows of a strip


def signal_key(role: str, network: str | None) -> str:
    """How the page names a signal."""
    return f"{role}@{network}"


def chart_data(channels: Iterable[ChannelTrace]) -> dict[str, Any]:
    """By key, each signal with its runs: the channels that have it, those from before the fitting first."""
    found: dict[str, Any] = {}
    for channel in channels:
        for trace in channel.signals:
            chart = found.setdefault(signal_key(trace.role, trace.network), _chart(trace))
            chart["runs"].append(_run(channel, trace))
    return found


def _chart(trace: SignalTrace) -> dict[str, Any]:
    place = span(*trace.place)
    return {
        "role": clean(trace.role),
        "title": clean(f"{trace.message}.{trace.signal} on {trace.network}"),
        "id": trace.frame_id,
        "bytes": [place.first, place.last],
        "unit": clean(trace.unit),
        "state": trace.is_state,
        "runs": [],
    }


def _run(channel: ChannelTrace, trace: SignalTrace) -> dict[str, Any]:
    ticks = np.round(trace.time * TICKS).astype(np.int64)
    steps = np.diff(ticks, prepend=0)
    return {
        "when": channel.when,
        "file": clean(channel.file),
        "channel": clean(channel.channel),
        "seconds": round(channel.seconds, 4),
        "t": steps.tolist(),
        "v": [_number(value) for value in trace.value.tolist()],
        "labels": {str(raw): clean(label) for raw, label in trace.labels.items()},
        "rows": trace.rows,
        "whole": trace.is_whole,
        "changes": trace.changes,
        "marks": [[mark.begin, mark.end, clean(mark_text(mark))] for mark in trace.marks],
        "gaps": [[round(gap.begin, 4), round(gap.end, 4), gap.is_silent] for gap in trace.gaps],
        "moreGaps": trace.more_gaps,
        "frames": [
            [round(sample.time, 4), _number(sample.value), sample.data.hex().upper()]
            for sample in trace.samples
        ],
    }


def mark_text(mark: TraceMark) -> str:
    """The state that a mark says the role was put in."""
    if mark.between is not None:
        return f"{mark.between[0]:g} to {mark.between[1]:g}"
    return str(mark.state)


def _number(value: float) -> float | int | None:
    """Six digits are more than a chart shows; whole numbers take fewer characters. None: no value."""
    if math.isnan(value):
        return None
    return int(value) if value.is_integer() and abs(value) < 1 << 53 else float(f"{value:.6g}")


# ---------------------------------------------------------------------------- strips


def strips(channels: Iterable[ChannelTrace]) -> Mapping[str, list[Markup]]:
    """By key, a strip for each run: marks as bands, the signal as a line."""
    found: dict[str, list[Markup]] = {}
    for channel in channels:
        for trace in channel.signals:
            found.setdefault(signal_key(trace.role, trace.network), []).append(_strip(channel, trace))
    return found


def _strip(channel: ChannelTrace, trace: SignalTrace) -> Markup:
    scale = WIDTH / (channel.seconds or 1.0)
    bands = "".join(
        f'<rect class="band" x="{max(mark.begin, 0) * scale:.1f}" y="0"'
        f' width="{max((min(mark.end, channel.seconds) - max(mark.begin, 0)) * scale, 0.5):.1f}"'
        f' height="{HEIGHT:g}"/>'
        for mark in trace.marks
    )
    path = _path(trace, scale)
    line = (
        f'<path class="line" d="{path}"/>'
        if path
        else f'<text x="6" y="19">{"only “no value”" if trace.rows else "no frame came"}</text>'
    )
    return Markup(
        f'<svg class="strip" viewBox="0 0 {WIDTH:g} {HEIGHT:g}" preserveAspectRatio="none" role="img"'
        f' aria-label="{escape(_strip_text(channel, trace))}">{bands}'
        f"{line}</svg>"
    )  # numbers, and a label that is escaped


def _strip_text(channel: ChannelTrace, trace: SignalTrace) -> str:
    moved = counted(trace.changes, "change") if trace.is_state else _range(trace)
    return clean(
        f"{channel.when} fitting, {channel.seconds:.0f} s of {channel.file}: {moved}, "
        f"{counted(len(trace.marks), 'mark')}"
    )


def _range(trace: SignalTrace) -> str:
    valid = trace.value[~np.isnan(trace.value)]
    if not len(valid):
        return "no value"
    return f"{valid.min():g} to {valid.max():g} {trace.unit}".rstrip()


def _path(trace: SignalTrace, scale: float) -> str:
    """A line that holds each value until the next; states stand at even distances."""
    thinner = Thinner(_COLUMNS, is_state=False)
    thinner.add(np.round(trace.time * 1e9).astype(np.int64), trace.value)
    time_ns, value = thinner.result()
    known = np.unique(value[~np.isnan(value)])
    if not len(known):
        return ""
    height = np.searchsorted(known, value) if trace.is_state else value
    low = 0.0 if trace.is_state else float(known[0])
    high = float(len(known) - 1 if trace.is_state else known[-1])
    level = (height - low) / ((high - low) or 1.0)
    parts, is_down = [], False
    for x, y, none in zip(
        (time_ns / 1e9 * scale).tolist(), level.tolist(), np.isnan(value).tolist(), strict=True
    ):
        top = HEIGHT - _EDGE - y * (HEIGHT - 2 * _EDGE) if not none else 0.0
        if none:
            parts.append(f"H{x:.1f}" if is_down else "")
        else:
            parts.append(f"H{x:.1f}V{top:.1f}" if is_down else f"M{x:.1f} {top:.1f}")
        is_down = not none
    return "".join(parts)
