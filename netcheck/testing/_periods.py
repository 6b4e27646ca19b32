"""Whether a message comes with a period, from the first moment its channel is awake to the last."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck.capture import EXTENDED, NON_DATA, Capture
from netcheck.database import Database, Message, matching
from netcheck.errors import UsageError
from netcheck.network import SILENCE_NS, SILENCE_SHARE
from netcheck.records import dataclass
from netcheck.testing import _arguments as check
from netcheck.testing._picture import histogram

LONGEST_PERIODS: Final = 5  # that a single gap may last
LEAST_LONGEST_MS: Final = 500.0
_MOST_IDS: Final = 12  # named where a message did not come
_MOST_AWAY: Final = 4  # edges that are shown
_NS: Final = 1_000_000_000
_MS: Final = 1e6


def assert_period(
    capture: Capture,
    message: int | str | Message,
    *,
    ms: float,
    jitter: float | None = None,
    longest: float | None = None,
    database: Database | None = None,
    channel: str | None = None,
) -> None:
    """A message comes every ``ms`` milliseconds while its channel is awake.

    98 of 100 gaps are within ``jitter`` of that, and none is over ``longest``. As in a plan, the time from
    the start of an awake period to the message's first frame, from its last to the end, and a period without
    a frame count as gaps, too: they may be short, but not long. Sleeps of the channel do not count: silences
    of all ids over a second, or 2.5 times its shortest median gap of a message where that is longer.

    message:  an id (above 0x7FF of 29 bits), a message of a database, or its name in ``database``
    jitter:   milliseconds, by default a tenth of ``ms``; the 1st and the 99th percentile of the gaps, by
              nearest rank, must lie within it
    longest:  milliseconds that a single gap may last, by default five times ``ms``, at least 500
    channel:  needed only where several channels carry the id

    Raises AssertionError with the gaps by length, the longest, and where the message was away; UsageError for
    arguments that cannot be meant.
    """
    __tracebackhide__ = True
    _check(capture, ms, jitter, longest, database, channel)
    jitter = ms / 10 if jitter is None else jitter
    longest = max(LONGEST_PERIODS * ms, LEAST_LONGEST_MS) if longest is None else longest
    name, frames = _frames_of(capture, message, database, channel)
    if not capture.has_times:
        raise AssertionError(f"{capture.file} has no time stamps: how often {name} comes is not known")
    if len(frames) < 2:
        have = [f"0x{can_id:03X}" for can_id in np.unique(capture.can_id)]
        more = f" and {len(have) - _MOST_IDS} more" if len(have) > _MOST_IDS else ""
        came = "once" if len(frames) else "never"
        raise AssertionError(
            f"{name} came {came} in {capture.file}\nids there: {', '.join(have[:_MOST_IDS])}{more}"
        )
    seen = _gaps(capture, frames)
    if not len(seen.between):
        raise AssertionError(f"{name} never came twice while the network was awake")
    limits = ms - jitter, ms + jitter
    low, high = _percentile(seen.between, 1), _percentile(seen.counted(limits[1]), 99)
    is_even = limits[0] <= low and high <= limits[1]
    if is_even and float(seen.all.max()) <= longest:
        return
    head = f"{name} does not come every {ms:g} ms ± {jitter:g} ms"
    if is_even:
        head = f"{name} comes every {ms:g} ms ± {jitter:g} ms, but stays away for longer than {longest:g} ms"
    raise AssertionError("\n".join([head, *_picture(seen, len(frames), limits, (low, high))]))


def _check(
    capture: Capture,
    ms: float,
    jitter: float | None,
    longest: float | None,
    database: Database | None,
    channel: str | None,
) -> None:
    __tracebackhide__ = True
    check.instance("capture", capture, Capture, "read_capture(file) gives one")
    check.number("ms", ms, "milliseconds", above=0)
    if jitter is not None:
        check.number("jitter", jitter, "milliseconds", least=0)
    if longest is not None:
        check.number("longest", longest, "milliseconds", above=0)
    if database is not None:
        check.instance("database", database, Database, "load_database(file) gives one")
    check.text("channel", channel, f"it has {', '.join(capture.channels)}")


@dataclass(frozen=True)
class _GapsSeen:
    """Gaps of a message in ms, and from when to when each was, in s from the capture's first frame.

    between: from frame to frame
    edges:   from the start of an awake period to the first frame and from the last one to its end; of a
             period without a frame the whole of it
    """

    between: NDArray[np.float64]
    between_s: NDArray[np.float64]
    edges: NDArray[np.float64]
    edges_s: NDArray[np.float64]

    @property
    def all(self) -> NDArray[np.float64]:
        """Both."""
        return np.concatenate((self.between, self.edges))

    def counted(self, most: float) -> NDArray[np.float64]:
        """Both, without the edges that are short, which say nothing."""
        return np.concatenate((self.between, self.edges[self.edges > most]))


def _percentile(gaps: NDArray[np.float64], percent: int) -> float:
    """By nearest rank."""
    ordered = np.sort(gaps)
    return float(ordered[max(-(-len(ordered) * percent // 100), 1) - 1])


def _picture(
    seen: _GapsSeen, frames: int, limits: tuple[float, float], percentiles: tuple[float, float]
) -> Iterator[str]:
    low, high = percentiles
    yield (
        f"  {frames:,} frames; gaps: median {float(np.median(seen.between)):.1f} ms, "
        f"98 of 100 from {low:.1f} to {high:.1f} ms"
    )
    yield from (f"  {line}" for line in histogram(seen.counted(limits[1]), *limits))
    every, places = seen.all, np.concatenate((seen.between_s, seen.edges_s))
    worst = int(np.argmax(every))
    yield f"longest: {every[worst]:.1f} ms, up to {places[worst][1]:.3f} s"
    away = np.flatnonzero(seen.edges > limits[1])
    for edge in away[:_MOST_AWAY].tolist():
        begin, end = seen.edges_s[edge]
        yield f"no frame from {begin:.3f} s to {end:.3f} s, while the channel was awake"
    if len(away) > _MOST_AWAY:
        yield f"and {len(away) - _MOST_AWAY} more times like that"


def _gaps(capture: Capture, frames: NDArray[np.int64]) -> _GapsSeen:
    """Gaps of some frames of one channel while that was awake."""
    on_channel = np.flatnonzero(capture.channel == capture.channel[frames[0]])
    heard = capture.time_ns[on_channel]
    steps = np.diff(heard, prepend=heard[0])
    is_border = (steps > _silence_ns(capture, on_channel)) | (steps < 0)
    period = np.cumsum(is_border)
    borders = np.flatnonzero(is_border)
    wake, sleep = heard[np.append(0, borders)], heard[np.append(borders - 1, len(heard) - 1)]
    mine, times = period[np.searchsorted(on_channel, frames)], capture.time_ns[frames]
    together = np.diff(mine) == 0
    firsts = np.searchsorted(mine, np.arange(len(wake)))
    lasts = np.searchsorted(mine, np.arange(len(wake)), side="right")
    came = lasts > firsts
    before = np.where(came, times[np.minimum(firsts, len(times) - 1)], sleep)
    pairs = [np.stack((wake, before), 1), np.stack((times[lasts[came] - 1], sleep[came]), 1)]
    edges = np.concatenate(pairs)
    start = int(capture.time_ns[0])
    between = np.stack((times[:-1], times[1:]), 1)[together]
    return _GapsSeen(
        np.diff(between, axis=1)[:, 0] / _MS,
        (between - start) / _NS,
        np.maximum(np.diff(edges, axis=1)[:, 0], 0) / _MS,
        (edges - start) / _NS,
    )


def _silence_ns(capture: Capture, on_channel: NDArray[np.int64]) -> float:
    """A longer silence of a channel is a sleep."""
    rows = on_channel[(capture.flags[on_channel] & np.uint8(NON_DATA)) == 0]
    keys = capture.can_id[rows].astype(np.int64) << 1 | capture.is_extended[rows]
    order = np.argsort(keys, kind="stable")
    times, keys = capture.time_ns[rows][order], keys[order]
    gaps, same = np.diff(times), np.diff(keys) == 0
    medians = [
        float(np.median(part))
        for part in np.split(gaps[same], np.flatnonzero(np.diff(keys[1:][same])) + 1)
        if len(part)
    ]
    return max(SILENCE_NS, SILENCE_SHARE * min(medians, default=0.0))


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
        number = check.identifier("message", message)
        extended = ((capture.flags & EXTENDED) != 0) == (number > 0x7FF)
        chosen = (capture.can_id == number) & extended & ((capture.flags & NON_DATA) == 0)
        name, frames = f"0x{number:03X}", np.flatnonzero(chosen)
    return name, frames[on_channel(name, capture.file, capture.channels, capture.channel[frames], channel)]


def on_channel(
    name: str, file: str, channels: tuple[str, ...], of_frames: NDArray[np.uint8], channel: str | None
) -> NDArray[np.bool_]:
    """bool[n]: frames on the channel that is meant. Raises UsageError where several might be, or none is."""
    __tracebackhide__ = True
    if channel is None:
        carrying = [channels[number] for number in np.unique(of_frames)]
        if len(carrying) > 1:
            raise UsageError(f"{name} is on {' and '.join(carrying)}", remedy="say which with channel=")
        return np.ones(len(of_frames), np.bool_)
    if channel not in channels:
        where = f"{file} has" if file else "there is"
        raise UsageError(f"{where} no channel {channel}", remedy=f"it has {', '.join(channels)}")
    found: NDArray[np.bool_] = of_frames == channels.index(channel)
    return found
