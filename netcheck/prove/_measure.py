"""Captures as they are compared: surveyed, followed in their states, and looked into where it counts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field, replace
from functools import partial
from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck.capture import NON_DATA, Capture, CaptureStream, open_capture
from netcheck.database import Message
from netcheck.files import LoadedCapture
from netcheck.network import (
    ByteKind,
    ChannelLoad,
    ChannelSurvey,
    FrameId,
    FrameTally,
    Gaps,
    LoadRates,
    MessageLoad,
    SurveyPlan,
    Timing,
    messages_by_id,
    ratio_of,
    survey,
)
from netcheck.prove._change_model import (
    VehicleState,
)
from netcheck.prove._edges import CaptureEdges, Stretch, follow
from netcheck.prove._payloads import PayloadMeter, PayloadSeen, PayloadTarget
from netcheck.records import dataclass
from netcheck.roles import diagnostic_addresses
from netcheck.verdict import PlanContext, Progress

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
class ChannelMeasured:
    """One channel of a capture that is a network of the vehicle.

    file:   of the capture; has_times: whether it has time stamps
    edges:  changes of roles in the whole capture
    known:  the DBC's message of each id
    payloads: filled in after both sides were surveyed
    """

    file: str
    network: str
    survey: ChannelSurvey
    edges: CaptureEdges
    states: tuple[StateSeen, ...]
    known: Mapping[FrameId, Message]
    has_times: bool
    payloads: dict[FrameId, PayloadSeen] = field(default_factory=dict)


@dataclass(frozen=True)
class CaptureMeasured:
    """One capture with its channels; the path is read once more for the payloads."""

    loaded: LoadedCapture
    edges: CaptureEdges
    stretches: tuple[Stretch, ...]
    channels: Mapping[str, ChannelMeasured]


@dataclass(frozen=True)
class MeasuredSide:
    """All captures from one side of the fitting."""

    context: PlanContext
    captures: tuple[CaptureMeasured, ...]

    def channels(self, network: str) -> tuple[ChannelMeasured, ...]:
        """The channels that are a network."""
        found = (channel for capture in self.captures for channel in capture.channels.values())
        return tuple(channel for channel in found if channel.network == network)


def measure(context: PlanContext, when: str, progress: Progress | None) -> MeasuredSide:
    """Survey every capture of one side, and tally its frames by the vehicle's state."""
    model = context.job.vehicle.model
    rates = {name: LoadRates(entry.bitrate, entry.fd_bitrate) for name, entry in model.network.items()}
    addresses = diagnostic_addresses(model, context.job.model_year)
    plan = SurveyPlan(context.databases, rates, addresses=addresses)
    loaded = (capture for capture in context.job.captures if capture.when == when)
    return MeasuredSide(context, tuple(_measured(context, capture, plan, progress) for capture in loaded))


def _measured(
    context: PlanContext, loaded: LoadedCapture, plan: SurveyPlan, progress: Progress | None
) -> CaptureMeasured:
    told = partial(progress, loaded.name) if progress else None
    networks = {
        use.channel: use.network if not use.is_left_out else None
        for use in context.captures.uses
        if use.file == loaded.name
    }
    times = {use.channel: use.has_times for use in context.captures.uses if use.file == loaded.name}
    surveyed = survey(open_capture(loaded.path, progress=told), plan)
    edges = follow(open_capture(loaded.path, progress=told), context.captures.watches, networks)
    has_times = all(times.values())
    stretches = edges.stretches() if has_times else ()
    ratios = frozenset(ratio_of(rates) for rates in plan.rates.values())
    tallies = _tallied(open_capture(loaded.path, progress=told), stretches, ratios) if stretches else {}
    channels = {}
    for index, channel in enumerate(surveyed.channels):
        network = networks.get(channel.channel)
        if network is None:
            continue
        traffic = next(
            captured.channel.traffic
            for captured in context.captures.by_network[network].channels
            if (captured.file, captured.channel.name) == (loaded.name, channel.channel)
        )
        channels[channel.channel] = ChannelMeasured(
            loaded.name,
            network,
            channel,
            edges,
            tuple(_state_seen(state, tally, index) for state, tally in tallies.items()),
            messages_by_id(traffic, context.databases[network]),
            has_times,
        )
    return CaptureMeasured(loaded, edges, stretches, channels)


def _tallied(
    stream: CaptureStream, stretches: Sequence[Stretch], ratios: frozenset[float]
) -> dict[VehicleState, FrameTally]:
    """The capture's frames tallied by the state that the vehicle was in; the one tally, once for each."""
    states = list(dict.fromkeys(stretch.state for stretch in stretches))
    tallies = {state: FrameTally(ratios=ratios) for state in states}
    begins = np.array([stretch.begin_ns for stretch in stretches], np.int64)
    ends = np.array([stretch.end_ns for stretch in stretches], np.int64)
    numbers = np.array([states.index(stretch.state) for stretch in stretches], np.int64)
    for chunk in stream.reusing_buffers():
        place = np.searchsorted(begins, chunk.time_ns, "right") - 1
        inside = (place >= 0) & (chunk.time_ns < ends[place])
        for number, state in enumerate(states):
            rows = np.flatnonzero(inside & (numbers[place] == number))
            if len(rows):
                tallies[state].add(chosen(chunk, rows))
    return tallies


def chosen(chunk: Capture, rows: NDArray[np.int64]) -> Capture:
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


def targets(before: Sequence[ChannelMeasured]) -> dict[FrameId, PayloadTarget]:
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


def look_into_payloads(side: MeasuredSide, wanted: Mapping[str, Mapping[FrameId, PayloadTarget]]) -> None:
    """Go through every capture of a side once more; wanted: per network."""
    for capture in side.captures:
        if not capture.channels:
            continue
        meters = {
            name: PayloadMeter(wanted.get(channel.network, {}), capture.stretches)
            for name, channel in capture.channels.items()
        }
        for chunk in open_capture(capture.loaded.path).reusing_buffers():
            for index, name in enumerate(chunk.channels):
                if name in meters:
                    rows = np.flatnonzero((chunk.channel == index) & ((chunk.flags & NON_DATA) == 0))
                    if len(rows):
                        meters[name].add(chunk, rows)
        for name, meter in meters.items():
            meter.close()
            capture.channels[name].payloads.update(meter.seen)


def joined_payloads(channels: Sequence[ChannelMeasured]) -> dict[FrameId, PayloadSeen]:
    """What was seen of each id, over all channels that are the network."""
    found: dict[FrameId, PayloadSeen] = {}
    for channel in channels:
        for frame_id, seen in channel.payloads.items():
            found.setdefault(frame_id, PayloadSeen()).join(seen)
    return found
