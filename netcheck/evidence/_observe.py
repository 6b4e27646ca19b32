"""One pass over a capture: each channel's traffic, and what was seen there of every watched signal."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import replace
from functools import partial
from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck.capture import Capture, CaptureStream
from netcheck.database import Message, split_rows
from netcheck.diagnostics import VinWatch
from netcheck.errors import InputError
from netcheck.evidence._bundle import Bundle, Groups, Rows
from netcheck.evidence._gaps import Breaks
from netcheck.evidence._meter import MessageMeter, Origin
from netcheck.evidence._observation import Observation
from netcheck.evidence._turns import Turns, TurnsWanted
from netcheck.evidence._window import Window
from netcheck.network import READ_ONCE, ChannelLoad, FrameTally, J1939Name, SerialWatch, Traffic
from netcheck.records import dataclass
from netcheck.roles import Watch
from netcheck.words import unique

MOST_ENTRIES: Final = 1 << 18  # ids with their lengths, of all channels; each takes about 700 bytes


@dataclass(frozen=True)
class ChannelSeen:
    """One channel of a capture: its traffic, and an observation per watch, in the watches' order.

    load: how full it was, where that was asked for
    awake_s: how long it was awake; 0 without times
    has_times: whether the capture has time stamps; without, an observation has no gaps, changes and marks
    turns: per watch, when it turned, where that was asked for and the watch has states
    """

    name: str
    traffic: Traffic
    observations: tuple[Observation, ...]
    load: ChannelLoad | None = None
    awake_s: float = 0.0
    has_times: bool = True
    turns: tuple[Turns | None, ...] = ()


@dataclass(frozen=True)
class CaptureSeen:
    """One capture: its channels in order of first appearance.

    seconds: from the first frame in the file to the latest
    skipped: lines that were not frames
    has_times: whether its frames have time stamps
    vins: per channel, vehicle identification numbers that its diagnostics or its messages told
    device_names: per channel, the numbers by which J1939 devices claim their addresses
    start_ns: the first frame in the file, ns of the log
    """

    file: str
    channels: tuple[ChannelSeen, ...]
    seconds: float
    skipped: int
    warnings: tuple[str, ...]
    has_times: bool = True
    vins: tuple[tuple[str, ...], ...] = ()
    device_names: tuple[tuple[J1939Name, ...], ...] = ()
    start_ns: int = 0


class ObservationPass:
    """A capture while its chunks go by: watched frames are bundled, and bundles added to the meters.

    A full bundle is added in the thread while the next one is filled.
    """

    def __init__(
        self,
        watches: Sequence[Watch],
        windows: Sequence[tuple[Window, ...]],
        name: str,
        thread: ThreadPoolExecutor,
        tally: FrameTally,
        turns: TurnsWanted | None = None,
        *,
        has_load: bool = True,
    ) -> None:
        """Begin.

        tally:    takes each chunk, with the ``tasks`` beside
        turns:    when watches turned is wanted, too
        has_load: how full channels are is wanted, as far as the tally knows
        """
        self._watches = watches
        self._turns = turns
        self._has_load = has_load
        self._windows = windows
        self._name = name
        self._thread = thread
        self._adding: Future[None] | None = None
        self._spare = Bundle.empty(0, 0)  # or the one that is being added
        self._messages = {message_key(watch.message): watch.message for watch in watches}
        self._tally = tally
        self._groups = Groups()
        self._bundle = Bundle.empty(0, 0)
        self._breaks: list[NDArray[np.int64]] = []
        self._meters: dict[int, _ChannelMeter] = {}
        self._start_ns: int | None = None
        self._vins = VinWatch()
        self._serials = SerialWatch()

    def tasks(self, chunk: Capture) -> list[Callable[[], None]]:
        """What is to be done with a chunk that has frames, beside the tally's own work.

        A task raises InputError where the ids become too many.
        """
        if self._start_ns is None:
            self._start_ns = int(chunk.time_ns[0])
        return [partial(self._add, chunk), partial(self._listen, chunk)]

    def _listen(self, chunk: Capture) -> None:
        self._vins.take(chunk)
        self._serials.take(chunk)

    def _add(self, chunk: Capture) -> None:
        placed = self._tally.placed
        known = len(self._groups.of_entry)
        entries = self._tally.entries(known)
        if known + len(entries.can_id) > MOST_ENTRIES:
            raise InputError(
                self._name,
                f"has more than {MOST_ENTRIES:,} different ids and lengths: no vehicle network has so many",
                remedy="leave it out, or keep the ids of the network with netcheck trim --id",
            )
        self._groups.add(entries, self._messages)
        if not self._bundle.has_room(chunk):
            self._hand_over()
            if not self._bundle.has_room(chunk):
                self._bundle = Bundle.fit(chunk)
        self._bundle.take(chunk, placed, self._groups.of_entry)
        self._breaks.append(placed.breaks.copy())

    def _hand_over(self) -> None:
        """Has the bundle added to the meters, and goes on with the other one."""
        share = self._share()
        self._wait()
        self._adding = self._thread.submit(share.add)
        self._bundle, self._spare = self._spare, self._bundle
        self._bundle.state.fill(0)

    def _wait(self) -> None:
        """Until the other bundle is added; raises what that raised."""
        if self._adding is not None:
            self._adding.result()

    def _share(self) -> _Share:
        """The bundle as it is now, with all that its frames go to."""
        breaks = np.concatenate(self._breaks or [np.empty((0, 3), np.int64)])
        self._breaks.clear()
        channels = []
        for channel, (first_ns, _) in self._tally.heard_ns().items():
            if channel not in self._meters:
                origin = Origin(self._name, self._start_ns or 0)
                self._meters[channel] = _ChannelMeter(
                    self._watches, self._windows, origin, first_ns, self._turns
                )
            groups = {key: tuple(self._groups.of_message.get((channel, key), ())) for key in self._messages}
            channels.append((self._meters[channel], groups, breaks[breaks[:, 0] == channel, 1:]))
        return _Share(self._bundle.filled(), self._groups.count, channels)

    def result(self, stream: CaptureStream) -> CaptureSeen:
        """What was seen, after the last chunk."""
        self._wait()
        self._share().add()
        traffic = [self._tally.traffic(number) for number in range(len(stream.channels))]
        start_ns = self._start_ns or 0
        latest_ns = max((channel.last_ns for channel in traffic), default=start_ns)
        seen = {
            channel: self._meters[channel].result(last_ns, latest_ns)
            for channel, (_, last_ns) in self._tally.heard_ns().items()
        }
        nothing = (Observation(),) * len(self._watches)
        no_turns = (None,) * len(self._watches)
        channels = [
            _channel_seen(
                ChannelSeen(
                    name,
                    carried,
                    seen.get(number, nothing),
                    self._tally.load(number) if self._has_load else None,
                    turns=self._meters[number].turns() if number in self._meters else no_turns,
                ),
                self._meters[number].silent_ns if number in self._meters else 0,
                has_times=stream.has_times,
            )
            for number, (name, carried) in enumerate(zip(stream.channels, traffic, strict=True))
        ]
        return CaptureSeen(
            file=stream.file,
            channels=tuple(channels),
            seconds=(latest_ns - start_ns) / 1e9,
            skipped=stream.skipped,
            warnings=stream.warnings,
            has_times=stream.has_times,
            vins=tuple(map(self._vins_on, stream.channels)),
            device_names=tuple(map(self._serials.names, stream.channels)),
            start_ns=start_ns,
        )

    def _vins_on(self, channel: str) -> tuple[str, ...]:
        return unique([*self._vins.numbers(channel), *self._serials.numbers(channel)])


def _channel_seen(seen: ChannelSeen, silent_ns: int, *, has_times: bool) -> ChannelSeen:
    """The channel with how long it was awake; without times, all that rests on them is left out."""
    if has_times:
        return replace(seen, awake_s=max(seen.traffic.seconds - silent_ns / 1e9, 0.0))
    observations = tuple(entry.without_times() for entry in seen.observations)
    return replace(seen, observations=observations, load=None, has_times=False)


@dataclass(frozen=True)
class _Share:
    """A bundle, and per channel its meter, its groups by message key, and its breaks.

    count: how many groups there are
    """

    bundle: Bundle
    count: int
    channels: Sequence[tuple[_ChannelMeter, Mapping[str, Sequence[int]], NDArray[np.int64]]]

    def add(self) -> None:
        """Adds the frames to the meters."""
        group = self.bundle.group
        by_group = split_rows(group, np.bincount(group, minlength=self.count))
        for meter, groups, breaks in self.channels:
            meter.add({key: self.bundle.rows(own, by_group) for key, own in groups.items()}, breaks)


class _ChannelMeter:
    """One channel while the bundles go by."""

    def __init__(
        self,
        watches: Sequence[Watch],
        windows: Sequence[tuple[Window, ...]],
        origin: Origin,
        first_ns: int,
        turns: TurnsWanted | None,
    ) -> None:
        """first_ns: the channel's first frame."""
        self._meters: dict[str, MessageMeter] = {}
        self._keys = [message_key(watch.message) for watch in watches]
        for key, watch, own in zip(self._keys, watches, windows, strict=True):
            meter = self._meters.setdefault(key, MessageMeter(watch.message, first_ns))
            meter.watch(watch, own, origin, turns.meter(watch) if turns is not None else None)
        self._awake = 0
        self.silent_ns = 0  # between awake periods

    def add(self, rows: Mapping[str, Rows], breaks: NDArray[np.int64]) -> None:
        """Take a bundle. rows: per message key; breaks: of this channel, as ``Breaks`` has them."""
        borders = Breaks(self._awake, np.ascontiguousarray(breaks))
        self._awake += len(breaks)
        self.silent_ns += int(np.maximum(breaks[:, 1] - breaks[:, 0], 0).sum())
        for key, meter in self._meters.items():
            meter.add(rows[key], borders)

    def turns(self) -> tuple[Turns | None, ...]:
        """Per watch, when it turned, where that was wanted."""
        found = {key: iter(meter.turns()) for key, meter in self._meters.items()}
        return tuple(next(found[key]) for key in self._keys)

    def result(self, last_ns: int, end_ns: int) -> tuple[Observation, ...]:
        """An observation per watch, up to the channel's last frame and the capture's."""
        found = {key: iter(meter.result(last_ns, end_ns)) for key, meter in self._meters.items()}
        return tuple(next(found[key]) for key in self._keys)


def message_key(message: Message) -> str:
    """Tells messages of different DBCs apart where their names are the same."""
    return f"{message.file}:{message.name}"


def observe(
    stream: CaptureStream,
    watches: Sequence[Watch],
    windows: Sequence[tuple[Window, ...]],
    ratios: frozenset[float] | None = None,
    name: str = "",
    turns: TurnsWanted | None = None,
) -> CaptureSeen:
    """Look at a whole capture once, in bounded memory; twice where a channel is slow: see ``FrameTally``.

    windows: per watch, the marks of this capture that apply to it
    name:    what people call the capture; by default its path
    ratios:  how full the channels are is wanted, too; the data-phase bit rates over the nominal ones that
             they may have
    turns:   when watches turned is wanted, too
    """
    seen, silences = _observed(stream, watches, windows, FrameTally(ratios=ratios), name, turns)
    if not silences:
        return seen
    again = stream.again()
    if again is None:
        return replace(seen, warnings=(*seen.warnings, READ_ONCE))
    tally = FrameTally(ratios=ratios, silences=silences)
    return _observed(again.reusing_buffers(), watches, windows, tally, name, turns)[0]


def _observed(
    stream: CaptureStream,
    watches: Sequence[Watch],
    windows: Sequence[tuple[Window, ...]],
    tally: FrameTally,
    name: str,
    turns: TurnsWanted | None,
) -> tuple[CaptureSeen, Mapping[int, int]]:
    with ThreadPoolExecutor(1, "netcheck-observe") as thread:
        passing = ObservationPass(watches, windows, name or stream.file, thread, tally, turns)
        for chunk in stream:
            if len(chunk):
                tally.add(chunk, passing.tasks(chunk))
        return passing.result(stream), tally.silences()
