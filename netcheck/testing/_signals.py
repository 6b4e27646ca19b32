"""Assertions about signals and messages of a capture."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck.capture import EXTENDED, NON_DATA, Capture
from netcheck.database import Database, Message, Series, matching
from netcheck.errors import UsageError
from netcheck.testing._picture import counts, histogram, name_of, seconds_of, timeline, value_text

_AROUND_S: Final = 4.0  # shown before and behind the place
_AWAKE_NS: Final = 1_000_000_000  # a longer silence of the whole channel: the network slept
_MOST_IDS: Final = 12  # named where a message did not come
_NS: Final = 1_000_000_000


def assert_signal(
    series: Series,
    *,
    at: float,
    is_: str | float | tuple[float, float],
    within: float = 1.0,
    tolerance: float = 0.0,
) -> None:
    """A signal has a value at a time: the one that came last before it.

    at:        seconds from the first frame of the capture that was decoded
    is_:       a label of the value table, a physical value, or (low, high)
    within:    seconds that the last value may be old; an older one is none
    tolerance: by how much a physical value may differ

    Raises AssertionError with a picture of the signal around that time.
    """
    __tracebackhide__ = True
    holds = _holds(series, is_, tolerance)
    times = seconds_of(series)
    # Frames stand in file order, and a clock may step back: the latest time, of equal ones the last frame.
    before = np.flatnonzero(times <= at)[::-1]
    last = int(before[np.argmax(times[before])]) if len(before) else None
    name = f"{series.message}.{series.signal}"
    if last is None:
        found = f"has no value up to {at:.3f} s"
    elif at - times[last] > within:
        found = f"has no value from {at - within:.3f} s to {at:.3f} s, the last came at {times[last]:.3f} s"
    elif holds[last]:
        return
    else:
        found = f"is {name_of(series, series.raw[last].item())} at {at:.3f} s"
    wanted = _wanted(series, is_, tolerance)
    lines = [f"{name} {found}, not {wanted}", *_around(series, times, at)]
    raise AssertionError("\n".join([*lines, _nearest(times, holds, at, wanted), f"in all: {counts(series)}"]))


def _holds(series: Series, is_: str | float | tuple[float, float], tolerance: float) -> NDArray[np.bool_]:
    """Which samples are as wanted."""
    __tracebackhide__ = True
    if isinstance(is_, str):
        raws = [raw for raw, label in series.labels.items() if label == is_]
        if not raws:
            has = ", ".join(series.labels.values()) or "none; give a number"
            raise UsageError(f"{series.message}.{series.signal} has no label '{is_}'", remedy=f"it has {has}")
        return np.isin(series.raw, raws)
    low, high = is_ if isinstance(is_, tuple) else (is_ - tolerance, is_ + tolerance)
    slack = 1e-9 * max(abs(low), abs(high), 1e-3)  # decimal numbers are not exact in binary
    chosen: NDArray[np.bool_] = (series.value >= low - slack) & (series.value <= high + slack)
    return chosen


def _wanted(series: Series, is_: str | float | tuple[float, float], tolerance: float) -> str:
    if isinstance(is_, str):
        return is_
    if isinstance(is_, tuple):
        return f"from {value_text(series, is_[0])} to {value_text(series, is_[1])}"
    return value_text(series, is_) + (f" ± {tolerance:g}" if tolerance else "")


def _around(series: Series, times: NDArray[np.float64], at: float) -> list[str]:
    begin, end = max(0.0, at - _AROUND_S), max(at, 0.0) + _AROUND_S
    if not len(times):
        came = f"{series.frames:,} frames of {series.message} came"
        return [f"  {came}, none that holds it, {series.short:,} too short"]
    return [f"  {line}" for line in timeline(series, begin, end, at=at if at >= 0 else None)]


def _nearest(times: NDArray[np.float64], holds: NDArray[np.bool_], at: float, wanted: str) -> str:
    """When it is as wanted, nearest to the place."""
    good = np.flatnonzero(holds)
    if not len(good):
        return f"it is never {wanted}"
    near = int(good[np.argmin(np.abs(times[good] - at))])
    first = last = near
    while first > 0 and holds[first - 1]:
        first -= 1
    while last + 1 < len(holds) and holds[last + 1]:
        last += 1
    return f"nearest: {wanted} from {times[first]:.3f} s to {times[last]:.3f} s"


def assert_period(
    capture: Capture,
    message: int | str | Message,
    *,
    ms: float,
    jitter: float | None = None,
    database: Database | None = None,
    channel: str | None = None,
) -> None:
    """A message comes every ``ms`` milliseconds: 98 of 100 of its gaps are within ``jitter`` of that.

    message:  an id (above 0x7FF of 29 bits), a message of a database, or its name in ``database``
    jitter:   milliseconds, by default a tenth of ``ms``; the 1st and the 99th percentile of the gaps, by
              nearest rank, must lie within it
    channel:  needed only where several channels carry the id

    Gaps across a sleep of the network, a second without any frame on the channel, do not count. Raises
    AssertionError with the gaps by length and the longest.
    """
    __tracebackhide__ = True
    jitter = ms / 10 if jitter is None else jitter
    name, frames = _frames_of(capture, message, database, channel)
    if len(frames) < 2:
        have = [f"0x{can_id:03X}" for can_id in np.unique(capture.can_id)]
        more = f" and {len(have) - _MOST_IDS} more" if len(have) > _MOST_IDS else ""
        came = "once" if len(frames) else "never"
        raise AssertionError(
            f"{name} came {came} in {capture.file}\nids there: {', '.join(have[:_MOST_IDS])}{more}"
        )
    gaps, ends = _awake_gaps(capture, frames)
    if not len(gaps):
        raise AssertionError(f"{name} never came twice while the network was awake")
    ordered = np.sort(gaps)
    low, high = (float(ordered[max(-(-len(ordered) * p // 100), 1) - 1]) for p in (1, 99))
    if ms - jitter <= low and high <= ms + jitter:
        return
    longest = int(np.argmax(gaps))
    start = int(capture.time_ns[0])
    lines = [
        f"{name} does not come every {ms:g} ms ± {jitter:g} ms",
        f"  {len(frames):,} frames; gaps: median {float(np.median(gaps)):.1f} ms, "
        f"98 of 100 from {low:.1f} to {high:.1f} ms",
        *(f"  {line}" for line in histogram(gaps, ms - jitter, ms + jitter)),
        f"longest: {gaps[longest]:.1f} ms, up to {(int(ends[longest]) - start) / _NS:.3f} s",
    ]
    raise AssertionError("\n".join(lines))


def _frames_of(
    capture: Capture, message: int | str | Message, database: Database | None, channel: str | None
) -> tuple[str, NDArray[np.int64]]:
    """The message's name and its frames on one channel."""
    __tracebackhide__ = True
    if isinstance(message, str):
        if database is None:
            raise UsageError(f"'{message}' is a name", remedy="give database=, or the id as a number")
        known = database.message(message)
        if known is None:
            raise UsageError(
                f"no message '{message}' in {', '.join(database.files)}",
                remedy=f"there are {', '.join(each.name for each in database.messages)}",
            )
        message = known
    if isinstance(message, Message):
        name, frames = f"{message.name} (0x{message.can_id:03X})", matching(capture, message)
    else:
        extended = ((capture.flags & EXTENDED) != 0) == (message > 0x7FF)
        chosen = (capture.can_id == message) & extended & ((capture.flags & NON_DATA) == 0)
        name, frames = f"0x{message:03X}", np.flatnonzero(chosen)
    carrying = [capture.channels[number] for number in np.unique(capture.channel[frames])]
    if channel is None:
        if len(carrying) > 1:
            raise UsageError(f"{name} is on {' and '.join(carrying)}", remedy="say which with channel=")
        return name, frames
    if channel not in capture.channels:
        there = ", ".join(capture.channels)
        raise UsageError(f"{capture.file} has no channel {channel}", remedy=f"it has {there}")
    return name, frames[capture.channel[frames] == capture.channels.index(channel)]


def _awake_gaps(capture: Capture, frames: NDArray[np.int64]) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Gaps in ms between frames of one awake period, and the times at which they end."""
    on_channel = np.flatnonzero(capture.channel == capture.channel[frames[0]])
    steps = np.diff(capture.time_ns[on_channel], prepend=capture.time_ns[on_channel[0]])
    period = np.cumsum((steps > _AWAKE_NS) | (steps < 0))
    mine = period[np.searchsorted(on_channel, frames)]
    times = capture.time_ns[frames]
    together = np.diff(mine) == 0
    gaps: NDArray[np.float64] = np.diff(times)[together] / 1e6
    return gaps, times[1:][together]
