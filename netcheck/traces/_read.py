"""The captures of a job, gone through once more: what is drawn of them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from contextlib import closing
from dataclasses import field
from functools import partial
from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck.capture import ERROR, Capture, open_capture
from netcheck.database import Database, extract_all, group_frames
from netcheck.files import LoadedCapture, LoadedJob, When
from netcheck.network import FrameId, LoadCurve, LoadRates
from netcheck.records import dataclass
from netcheck.roles import Watch, is_any_of, load_networks, resolve_roles
from netcheck.traces._gaps import GapFinder, trace_gaps
from netcheck.traces._model import ChannelTrace, LoadTrace, SampledFrame, SignalTrace, TraceMark
from netcheck.traces._thin import Samples, Thinner
from netcheck.verdict import ChannelUse

Progress = Callable[[str, int, int], None]  # name of the capture, bytes done, bytes in all
MOST_ROWS: Final = 400_000  # of all signals together
_LEAST_ROWS: Final = 2_000  # of one signal, however many there are
_MOST_OF_ONE: Final = 50_000
_SAMPLES: Final = 160  # frames behind a signal
_SPANS: Final = 1_000  # of a load over time
_STATE_BITS: Final = 4  # a labelled signal of no more bits is a state


def read_traces(
    job: LoadedJob,
    uses: Mapping[When, Sequence[ChannelUse]],
    wanted: Collection[tuple[str, str]],
    *,
    cache: bool = True,
    progress: Progress | None = None,
) -> tuple[ChannelTrace, ...]:
    """What to draw of a job's captures: each channel that is a network, before and after the fitting.

    uses:   the channels as plan and proof took them for networks
    wanted: (role, network) of the signals to draw
    cache, progress: as for ``make_plan``

    Raises InputError for files that cannot be read.
    """
    applied = job.applied()
    databases = load_networks(job.vehicle, cache=cache)
    roles = resolve_roles(applied, databases)
    watches: dict[str, list[Watch]] = defaultdict(list)
    for role, network in sorted(wanted):
        for source in roles.get(role, ()):
            if source.network == network and source.watch is not None:
                watches[network].append(source.watch)
    number = sum(len(watches[use.network or ""]) for when in uses for use in uses[when])
    most = min(max(MOST_ROWS // max(number, 1), _LEAST_ROWS), _MOST_OF_ONE)
    found: list[ChannelTrace] = []
    for when in ("before", "after"):
        taken = [use for use in uses.get(when, ()) if use.network is not None and not use.is_left_out]
        for loaded in job.captures:
            own = {use.channel: use for use in taken if use.file == loaded.name}
            if loaded.when == when and own:
                reading = _Reading(job, loaded, own, watches, databases, most)
                found += reading.run(progress)
    return tuple(found)


@dataclass
class _Signal:
    """A signal while the chunks go by."""

    watch: Watch
    thinner: Thinner
    samples: Samples
    gaps: GapFinder = field(default_factory=GapFinder)


def _is_state(watch: Watch) -> bool:
    signal = watch.signal
    return bool(watch.active) or signal.width == 1 or (bool(signal.labels) and signal.width <= _STATE_BITS)


class _Reading:
    """One capture."""

    def __init__(
        self,
        job: LoadedJob,
        loaded: LoadedCapture,
        uses: Mapping[str, ChannelUse],
        watches: Mapping[str, Sequence[Watch]],
        databases: Mapping[str, Database],
        most: int,
    ) -> None:
        self._job = job
        self._loaded = loaded
        self._uses = uses
        self._databases = databases
        self._curve = LoadCurve()
        self._start_ns: int | None = None
        self._latest_ns = 0
        self._silences: dict[str, GapFinder] = {channel: GapFinder(1000) for channel in uses}
        self._signals: dict[str, list[_Signal]] = {
            channel: [
                _Signal(
                    watch,
                    Thinner(most, is_state=_is_state(watch)),
                    Samples(_SAMPLES, is_state=_is_state(watch)),
                )
                for watch in watches.get(use.network or "", ())
            ]
            for channel, use in uses.items()
        }

    def run(self, progress: Progress | None) -> Iterator[ChannelTrace]:
        told = partial(progress, self._loaded.name) if progress else None
        with closing(open_capture(self._loaded.path, progress=told)) as stream:
            for chunk in stream.reusing_buffers():
                self._add(chunk)
            channels, has_times = stream.channels, stream.has_times
        for number, channel in enumerate(channels):
            if channel in self._uses:
                yield self._trace(number, channel, has_times=has_times)

    def _add(self, chunk: Capture) -> None:
        if self._start_ns is None:
            self._start_ns = int(chunk.time_ns[0])
        self._latest_ns = max(self._latest_ns, int(chunk.time_ns.max()))
        self._curve.add(chunk)
        grouped: dict[str, Mapping[str, NDArray[np.int64]]] = {}
        for number, channel in enumerate(chunk.channels):
            use = self._uses.get(channel)
            if use is None or use.network is None:
                continue
            here = chunk.channel == number
            heard = here & (chunk.flags & np.uint8(ERROR) == 0)
            self._silences[channel].add(chunk.time_ns[heard])
            if self._signals[channel] and use.network not in grouped:
                grouped[use.network] = group_frames(chunk, self._databases[use.network])
            for signal in self._signals[channel]:
                rows = grouped[use.network][signal.watch.message.name]
                _take(signal, chunk, rows[here[rows]])

    def _trace(self, number: int, channel: str, *, has_times: bool) -> ChannelTrace:
        use, start_ns = self._uses[channel], self._start_ns or 0
        network = use.network or ""
        model = self._job.vehicle.model.network[network]
        rates = LoadRates(model.bitrate, model.fd_bitrate)
        silences, _ = self._silences[channel].result()
        signals = self._signals[channel] if has_times else []
        return ChannelTrace(
            self._loaded.name,
            self._loaded.when,
            channel,
            network,
            (self._latest_ns - start_ns) / 1e9,
            has_times,
            _load(self._curve, number, rates) if has_times else None,
            tuple(_signal_trace(signal, self._loaded, silences, start_ns) for signal in signals),
        )


def _take(signal: _Signal, chunk: Capture, rows: NDArray[np.int64]) -> None:
    watch = signal.watch
    (found,) = extract_all(chunk, watch.message, [watch.signal], rows)
    carried = rows[found.carries]
    raw = found.raw[found.carries]
    value = raw.astype(np.float64) if _is_state(watch) else found.value[found.carries]
    if watch.not_available:
        value[is_any_of(raw, watch.not_available)] = np.nan
    value[~np.isfinite(value)] = np.nan
    times = chunk.time_ns[carried]
    signal.thinner.add(times, value)
    signal.gaps.add(times)
    signal.samples.add(times, value, lambda number: chunk.payload(int(carried[number])))


def _signal_trace(
    signal: _Signal, loaded: LoadedCapture, silences: NDArray[np.int64], start_ns: int
) -> SignalTrace:
    watch, thinner = signal.watch, signal.thinner
    time_ns, value = thinner.result()
    spans, more = signal.gaps.result()
    came = {int(raw) for raw in np.unique(value[np.isfinite(value)]).tolist() if float(raw).is_integer()}
    is_state = _is_state(watch)
    return SignalTrace(
        role=watch.role,
        network=watch.network,
        message=watch.message.name,
        signal=watch.signal.name,
        frame_id=str(FrameId(watch.message.can_id, watch.message.is_extended)),
        place=(watch.signal.start, watch.signal.width, watch.signal.is_big_endian),
        unit=watch.signal.unit,
        is_state=is_state,
        labels={raw: watch.signal.labels[raw] for raw in sorted(came) if raw in watch.signal.labels}
        if is_state
        else {},
        time=(time_ns - start_ns) / 1e9,
        value=value,
        rows=thinner.rows,
        is_whole=thinner.is_whole,
        changes=thinner.changes,
        gaps=trace_gaps(spans, silences, start_ns),
        more_gaps=more,
        marks=tuple(_marks(loaded, watch.role)),
        samples=tuple(
            SampledFrame((at - start_ns) / 1e9, shown, data) for at, shown, data in signal.samples.result()
        ),
    )


def _marks(loaded: LoadedCapture, role: str) -> Iterator[TraceMark]:
    for entry in loaded.marks:
        if entry.mark.role == role:
            mark = entry.mark
            between = (float(mark.between[0]), float(mark.between[1])) if mark.between else None
            yield TraceMark(mark.from_, mark.to, mark.state, between)


def _load(curve: LoadCurve, number: int, rates: LoadRates) -> LoadTrace:
    shares = curve.shares(number, rates)
    width = 1
    while len(shares) > width * _SPANS:
        width *= 2
    padded = np.concatenate((shares, np.full(-len(shares) % width, np.nan)))
    spans = padded.reshape(-1, width)
    return LoadTrace(width, np.nanmean(spans, axis=1), np.nanmax(spans, axis=1), curve.outside)
