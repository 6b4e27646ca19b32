"""The second pass over captures: tallied by state of the vehicle, and looked into where it counts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field, replace
from functools import partial
from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck.capture import NON_DATA, Capture, open_capture
from netcheck.diagnostics import ConversationReader, Readout
from netcheck.files import LoadedCapture, LoadedJob, When
from netcheck.network import (
    ByteKind,
    ChannelLoad,
    FrameId,
    FrameTally,
    Gaps,
    MessageLoad,
    Timing,
)
from netcheck.prove._change_model import (
    VehicleState,
)
from netcheck.prove._edges import CaptureEdges, Stretch
from netcheck.prove._look import CaptureLook, ChannelLook, SideLook
from netcheck.prove._payloads import PayloadMeter, PayloadSeen, PayloadTarget
from netcheck.records import dataclass
from netcheck.verdict import PlanContext, Progress, readouts_of

CHUNK_BYTES: Final = 1 << 24  # of text at once: enough to make little of the work around a message's frames
SURE: Final = 0.99  # share of a counter's steps or of frames with a right checksum that makes it one


@dataclass(frozen=True)
class MessageInState:
    """One id while the vehicle was in one state."""

    count: int
    gaps: Gaps
    timing: Timing
    load: MessageLoad


@dataclass(frozen=True)
class StateSeen:
    """One channel while the vehicle was in one state. awake_s: seconds awake in it."""

    state: VehicleState
    awake_s: float
    load: ChannelLoad
    messages: Mapping[FrameId, MessageInState]


@dataclass(frozen=True)
class ChannelMeasured(ChannelLook):
    """The same after the second pass: by state of the vehicle, and what its payloads do."""

    states: tuple[StateSeen, ...] = ()
    payloads: Mapping[FrameId, PayloadSeen] = field(default_factory=dict)


@dataclass(frozen=True)
class CaptureMeasured:
    """One capture with its channels."""

    loaded: LoadedCapture
    edges: CaptureEdges
    channels: Mapping[str, ChannelMeasured]

    def is_same_recording(self, other: CaptureMeasured) -> bool:
        """Whether both have as many frames of each id, from the same time to the same."""
        return bool(self.channels) and self._recording() == other._recording()

    def _recording(self) -> object:
        counts = {
            (name, message.frame_id): message.count
            for name, channel in self.channels.items()
            for message in channel.survey.messages
        }
        return self.edges.first_ns, self.edges.last_ns, counts


@dataclass(frozen=True)
class MeasuredSide:
    """All captures from one side of the fitting, and what the modules said in them."""

    context: PlanContext
    captures: tuple[CaptureMeasured, ...]
    readout: Readout

    def channels(self, network: str) -> tuple[ChannelMeasured, ...]:
        """The channels that are a network."""
        found = (channel for capture in self.captures for channel in capture.channels.values())
        return tuple(channel for channel in found if channel.network == network)

    def told(self, job: LoadedJob, when: When) -> MeasuredSide:
        """The same where the job has further readouts."""
        readouts = readouts_of(job, when)
        return replace(self, context=replace(self.context, job=job.applied(), readouts=readouts))


def measure(
    side: SideLook,
    wanted: Mapping[str, Mapping[FrameId, PayloadTarget]],
    progress: Progress | None,
) -> MeasuredSide:
    """Go through every capture of a side for the second time, now that its channels and states are known.

    wanted: per network, what is followed of each id
    """
    reader = side.reader
    captures = tuple(_measured(capture, wanted, reader, progress) for capture in side.captures)
    readout = reader.readout([capture.loaded.path.as_posix() for capture in side.captures])
    return MeasuredSide(side.context, captures, readout)


def _measured(
    look: CaptureLook,
    wanted: Mapping[str, Mapping[FrameId, PayloadTarget]],
    reader: ConversationReader,
    progress: Progress | None,
) -> CaptureMeasured:
    stretches = look.edges.stretches() if look.has_times else ()
    states = _StateTallies(stretches, look.ratios)
    meters = {
        name: PayloadMeter(wanted.get(channel.network, {}), stretches)
        for name, channel in look.channels.items()
    }
    if look.channels or look.streams:
        told = partial(progress, look.loaded.name) if progress else None
        stream = open_capture(look.loaded.path, progress=told, chunk_bytes=CHUNK_BYTES)
        reader.begin(look.loaded.path, look.streams)
        for chunk in stream.reusing_buffers():
            if look.streams:
                reader.take(chunk)
            if look.channels:
                states.add(chunk)
                _meter(chunk, meters)
        reader.end(stream.lines)
    channels = {
        name: ChannelMeasured(
            **vars(channel),
            states=states.result(look.names.index(name)),
            payloads=meters[name].result(),
        )
        for name, channel in look.channels.items()
    }
    return CaptureMeasured(look.loaded, look.edges, channels)


def _meter(chunk: Capture, meters: Mapping[str, PayloadMeter]) -> None:
    for index, name in enumerate(chunk.channels):
        if name in meters:
            rows = np.flatnonzero((chunk.channel == index) & ((chunk.flags & NON_DATA) == 0))
            if len(rows):
                meters[name].add(chunk, rows)


class _StateTallies:
    """A capture's frames tallied by the state that the vehicle was in; the one tally, once for each."""

    def __init__(self, stretches: Sequence[Stretch], ratios: frozenset[float]) -> None:
        states = list(dict.fromkeys(stretch.state for stretch in stretches))
        self._tallies = {state: FrameTally(ratios=ratios) for state in states}
        self._begins = np.array([stretch.begin_ns for stretch in stretches], np.int64)
        self._ends = np.array([stretch.end_ns for stretch in stretches], np.int64)
        self._numbers = np.array([states.index(stretch.state) for stretch in stretches], np.int64)

    def add(self, chunk: Capture) -> None:
        """The next chunk."""
        if not self._tallies:
            return
        place = np.searchsorted(self._begins, chunk.time_ns, "right") - 1
        inside = (place >= 0) & (chunk.time_ns < self._ends[place])
        number = np.where(inside, self._numbers[place], -1)
        for wanted, tally in enumerate(self._tallies.values()):
            rows = np.flatnonzero(number == wanted)
            if len(rows):
                tally.add(_chosen(chunk, rows))

    def result(self, channel: int) -> tuple[StateSeen, ...]:
        """One channel in each state."""
        return tuple(_state_seen(state, tally, channel) for state, tally in self._tallies.items())


def _chosen(chunk: Capture, rows: NDArray[np.int64]) -> Capture:
    """Some frames of a chunk; payloads stay where they are."""
    return Capture(
        file=chunk.file,
        channels=chunk.channels,
        time_ns=chunk.time_ns[rows],
        can_id=chunk.can_id[rows],
        flags=chunk.flags[rows],
        channel=chunk.channel[rows],
        length=chunk.length[rows],
        start=chunk.start[rows],
        data=chunk.data,
        has_times=chunk.has_times,
    )


def _state_seen(state: VehicleState, tally: FrameTally, channel: int) -> StateSeen:
    periods = tally.awake_periods(channel)
    awake_s = float((periods[:, 1] - periods[:, 0]).sum()) / 1e9 if len(periods) else 0.0
    messages = {
        frame_id: MessageInState(seen.count, seen.gaps, seen.timing(), seen.load())
        for frame_id, seen in tally.messages(channel).items()
    }
    return StateSeen(state, awake_s, tally.wire(channel), messages)


def targets(before: Sequence[ChannelLook]) -> dict[FrameId, PayloadTarget]:
    """What is followed of each id of a network: counters and checksums that were sure before, and signals."""
    found: dict[FrameId, PayloadTarget] = {}
    for channel in before:
        for message in channel.survey.messages:
            counter, checksum = message.counter, message.checksum
            period_ms = message.timing.period or 0.0
            found.setdefault(
                message.frame_id,
                PayloadTarget(
                    counter=counter if counter is not None and counter.share >= SURE else None,
                    checksum=checksum if checksum is not None and checksum.share >= SURE else None,
                    length=max(message.lengths, key=lambda length: message.lengths[length]),
                    pause_ns=max(1_000_000_000, round(3e6 * period_ms)),
                    message=channel.known.get(message.frame_id),
                ),
            )
            changing = {n for n, kind in enumerate(message.kinds) if kind is not ByteKind.CONSTANT}
            target = found[message.frame_id]
            found[message.frame_id] = replace(target, changing=target.changing | changing)
    return found


def targets_after(
    wanted: Mapping[FrameId, PayloadTarget], before: Sequence[ChannelMeasured]
) -> dict[FrameId, PayloadTarget]:
    """What is followed of them after the fitting, by what was seen before."""
    seen = joined_payloads(before)
    return {frame_id: target.after(seen.get(frame_id)) for frame_id, target in wanted.items()}


def joined_payloads(channels: Sequence[ChannelMeasured]) -> dict[FrameId, PayloadSeen]:
    """What was seen of each id, over all channels that are the network."""
    found: dict[FrameId, PayloadSeen] = {}
    for channel in channels:
        for frame_id, seen in channel.payloads.items():
            found.setdefault(frame_id, PayloadSeen()).join(seen)
    return found
