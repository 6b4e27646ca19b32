"""One pass over a capture: each channel's traffic, and what was seen there of every watched signal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from netcheck.capture import NOBODYS, Capture, CaptureStream
from netcheck.database import Message, matching
from netcheck.evidence._gaps import Stretches
from netcheck.evidence._meter import Rows, SignalMeter
from netcheck.evidence._observation import Observation
from netcheck.evidence._watch import Watch, Window
from netcheck.network import Traffic, TrafficTally, stretch_breaks


@dataclass(frozen=True)
class ChannelSeen:
    """One channel of a capture: its traffic, and an observation per watch, in the watches' order."""

    name: str
    traffic: Traffic
    observations: tuple[Observation, ...]


@dataclass(frozen=True)
class CaptureSeen:
    """One capture: its channels in order of first appearance.

    seconds: from the first frame in the file to the latest
    skipped: lines that were not frames
    """

    file: str
    channels: tuple[ChannelSeen, ...]
    seconds: float
    skipped: int
    warnings: tuple[str, ...]


class _ChannelMeter:
    """One channel while the chunks go by."""

    def __init__(self, watches: Sequence[Watch], windows: Sequence[tuple[Window, ...]], file: str) -> None:
        self._watches = watches
        self._windows = windows
        self._file = file
        self._tally = TrafficTally()
        self._meters: list[SignalMeter] = []
        self._last_ns: int | None = None
        self._stretch = 0

    def add(
        self,
        chunk: Capture,
        on_channel: NDArray[np.bool_],
        found: Mapping[str, NDArray[np.int64]],
        start_ns: int,
    ) -> None:
        """Take a chunk. found: per message key, the rows of the chunk that are this message."""
        self._tally.add_times(chunk.time_ns[on_channel])
        rows = np.flatnonzero(on_channel & ((chunk.flags & NOBODYS) == 0))
        if not len(rows):
            return
        time_ns = chunk.time_ns[rows]
        self._tally.add_frames(chunk.can_id[rows], chunk.is_extended[rows], chunk.length[rows])
        if self._last_ns is None:
            self._meters = [
                SignalMeter(watch, windows, self._file, start_ns, int(time_ns[0]))
                for watch, windows in zip(self._watches, self._windows, strict=True)
            ]
        stretches = self._stretches(time_ns)
        for watch, meter in zip(self._watches, self._meters, strict=True):
            indices = found[message_key(watch.message)]
            indices = indices[on_channel[indices]]
            meter.add(Rows(chunk, indices, np.searchsorted(rows, indices), stretches))

    def _stretches(self, time_ns: NDArray[np.int64]) -> Stretches:
        is_break = stretch_breaks(time_ns, self._last_ns)
        breaks = np.flatnonzero(is_break)
        before = time_ns[breaks - 1]
        if len(breaks) and breaks[0] == 0 and self._last_ns is not None:
            before[0] = self._last_ns
        number = self._stretch + np.cumsum(is_break)
        self._stretch, self._last_ns = int(number[-1]), int(time_ns[-1])
        return Stretches(number, breaks, before, time_ns[breaks])

    def result(self, name: str, end_ns: int) -> ChannelSeen:
        """What was seen; the capture's latest frame is at ``end_ns``."""
        observations = tuple(meter.result(self._last_ns or 0, end_ns) for meter in self._meters)
        return ChannelSeen(name, self._tally.result(), observations or (Observation(),) * len(self._watches))


def message_key(message: Message) -> str:
    """Tells messages of different DBCs apart where their names are the same."""
    return f"{message.file}:{message.name}"


def observe(
    stream: CaptureStream, watches: Sequence[Watch], windows: Sequence[tuple[Window, ...]]
) -> CaptureSeen:
    """Look at a whole capture once, in bounded memory.

    windows: per watch, the marks of this capture that apply to it
    """
    meters: list[_ChannelMeter] = []
    messages = {message_key(watch.message): watch.message for watch in watches}
    file = stream.file
    start_ns: int | None = None
    latest_ns = 0
    for chunk in stream:
        if not len(chunk):
            continue
        if start_ns is None:
            start_ns = latest_ns = int(chunk.time_ns[0])
        latest_ns = max(latest_ns, int(chunk.time_ns.max()))
        meters.extend(_ChannelMeter(watches, windows, file) for _ in chunk.channels[len(meters) :])
        found = {key: matching(chunk, message) for key, message in messages.items()}
        for number, meter in enumerate(meters):
            on_channel = chunk.channel == number
            if on_channel.any():
                meter.add(chunk, on_channel, found, start_ns)
    return CaptureSeen(
        file=file,
        channels=tuple(
            meter.result(name, latest_ns) for meter, name in zip(meters, stream.channels, strict=True)
        ),
        seconds=(latest_ns - (start_ns or 0)) / 1e9,
        skipped=stream.skipped,
        warnings=stream.warnings,
    )
