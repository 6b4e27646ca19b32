"""Whether a signal has a value at a time."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from netcheck.database import Series
from netcheck.errors import UsageError
from netcheck.testing import _arguments as check
from netcheck.testing._periods import on_channel
from netcheck.testing._picture import counts, name_of, seconds_of, timeline, value_text

_AROUND_S: Final = 4.0  # shown before and behind the place


def assert_signal(
    series: Series,
    *,
    at: float,
    is_: str | float | tuple[float, float],
    within: float = 1.0,
    tolerance: float = 0.0,
    channel: str | None = None,
) -> None:
    """A signal has a value at a time: the one that came last before it.

    at:        seconds from the first frame of the capture that was decoded
    is_:       a label of the value table, a physical value, or (low, high)
    within:    seconds that the last value may be old; an older one is none
    tolerance: by how much a physical value may differ
    channel:   needed only where several channels carry the signal

    Raises AssertionError with a picture of the signal around that time; UsageError for arguments that cannot
    be meant.
    """
    __tracebackhide__ = True
    _check(series, at, is_, within, tolerance, channel)
    name = f"{series.message}.{series.signal}"
    series = series.take(on_channel(name, "", series.channels, series.channel, channel))
    holds = _holds(series, is_, tolerance)
    times = seconds_of(series)
    # Frames stand in file order, and a clock may step back: the latest time, of equal ones the last frame.
    before = np.flatnonzero(times <= at)[::-1]
    last = int(before[np.argmax(times[before])]) if len(before) else None
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


def _check(series: Series, at: float, is_: Any, within: float, tolerance: float, channel: str | None) -> None:
    __tracebackhide__ = True
    check.instance("series", series, Series, "decode(capture, database)[message, signal] gives one")
    check.number("at", at, "seconds")
    check.wanted_value("is_", is_)
    check.number("within", within, "seconds", least=0)
    check.number("tolerance", tolerance, "the signal's unit", least=0)
    check.text("channel", channel, f"it has {', '.join(series.channels)}")


def _holds(series: Series, is_: str | float | tuple[float, float], tolerance: float) -> NDArray[np.bool_]:
    """Which samples are as wanted."""
    __tracebackhide__ = True
    if isinstance(is_, str):
        raws = [raw for raw, label in series.labels.items() if label == is_]
        if not raws:
            has = ", ".join(series.labels.values()) or "none; give a number"
            raise UsageError(f"{series.message}.{series.signal} has no label '{is_}'", remedy=f"it has {has}")
        return np.isin(series.raw, raws)
    low, high = is_ if isinstance(is_, tuple | list) else (is_ - tolerance, is_ + tolerance)
    slack = 1e-9 * max(abs(low), abs(high), 1e-3)  # decimal numbers are not exact in binary
    chosen: NDArray[np.bool_] = (series.value >= low - slack) & (series.value <= high + slack)
    return chosen


def _wanted(series: Series, is_: str | float | tuple[float, float], tolerance: float) -> str:
    if isinstance(is_, str):
        return is_
    if isinstance(is_, tuple | list):
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
