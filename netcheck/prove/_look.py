"""The first pass over captures: what can be told without knowing which channel is which network."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from functools import partial
from typing import Final

from netcheck.capture import CaptureStream
from netcheck.database import Database, Message
from netcheck.diagnostics import Address, ConversationReader, refuse_pipe
from netcheck.evidence import CaptureSeen, ObservationPass, TurnsWanted, Window, observe
from netcheck.files import LoadedCapture, LoadedJob, When
from netcheck.network import (
    READ_ONCE,
    ChannelSurvey,
    FrameId,
    LoadRates,
    Survey,
    SurveyMeter,
    SurveyPlan,
    messages_by_id,
    ratio_of,
)
from netcheck.prove._edges import MOVING, SPEED, CaptureEdges, capture_edges
from netcheck.records import dataclass
from netcheck.roles import Watch, diagnostic_addresses
from netcheck.verdict import PlanContext, Progress, plan_context

TURNS: Final = TurnsWanted({SPEED: MOVING})


@dataclass(frozen=True)
class ChannelLook:
    """One channel of a capture that is a network of the vehicle.

    file:   of the capture; has_times: whether it has time stamps
    edges:  changes of roles in the whole capture
    known:  the DBC's message of each id
    """

    file: str
    network: str
    survey: ChannelSurvey
    edges: CaptureEdges
    known: Mapping[FrameId, Message]
    has_times: bool

    def ids_of(self, message: Message) -> tuple[FrameId, ...]:
        """The ids with which a message of the DBC came: of J1939 those of its senders, not the DBC's."""
        wanted = message.can_id, message.is_extended
        return tuple(
            frame_id for frame_id, known in self.known.items() if (known.can_id, known.is_extended) == wanted
        )


@dataclass(frozen=True)
class CaptureLook:
    """One capture after the first pass.

    names:   of all its channels; channels: those that are a network
    streams: ids that may carry diagnostic services, with their address bytes
    ratios:  of data-phase to nominal bit rate that its channels may have
    """

    loaded: LoadedCapture
    edges: CaptureEdges
    has_times: bool
    names: tuple[str, ...]
    channels: Mapping[str, ChannelLook]
    streams: Mapping[Address, int]
    ratios: frozenset[float]


@dataclass(frozen=True)
class SideLook:
    """All captures from one side of the fitting. reader: of the conversations in them, for the second pass"""

    context: PlanContext
    captures: tuple[CaptureLook, ...]
    reader: ConversationReader

    def channels(self, network: str) -> tuple[ChannelLook, ...]:
        """The channels that are a network."""
        found = (channel for capture in self.captures for channel in capture.channels.values())
        return tuple(channel for channel in found if channel.network == network)


def look(
    job: LoadedJob,
    when: When,
    databases: Mapping[str, Database],
    besides: Sequence[str],
    progress: Progress | None,
) -> SideLook:
    """Go through every capture of one side once: for its needs, as a survey, and for conversations.

    Arguments and errors as for ``plan_context``; UsageError for a capture that cannot be read twice.
    """
    model = job.vehicle.model
    loaded = [capture for capture in job.captures if capture.when == when]
    for capture in loaded:
        refuse_pipe(capture.path)
    rates = {name: LoadRates(entry.bitrate, entry.fd_bitrate) for name, entry in model.network.items()}
    plan = SurveyPlan(databases, rates, addresses=diagnostic_addresses(model, job.model_year))
    reader = ConversationReader(model, when)
    passes = FirstPasses(plan, reader)
    context = plan_context(
        job,
        progress=progress,
        when=when,
        besides=besides,
        databases=databases,
        observer=passes.observe,
    )
    ratios = frozenset(map(ratio_of, rates.values()))
    found = zip(loaded, context.captures.captures, passes.surveys, passes.streams, strict=True)
    return SideLook(context, tuple(_look(context, *entry, ratios) for entry in found), reader)


class FirstPasses:
    """The first pass over each capture of a side; what the plan does not ask for is kept.

    surveys, streams: of each capture, in the order of the passes
    """

    def __init__(self, plan: SurveyPlan, reader: ConversationReader) -> None:
        self._plan = plan
        self._reader = reader
        self.surveys: list[Survey] = []
        self.streams: list[Mapping[Address, int]] = []

    def observe(
        self,
        stream: CaptureStream,
        watches: Sequence[Watch],
        windows: Sequence[tuple[Window, ...]],
        ratios: frozenset[float] | None,
        name: str,
    ) -> CaptureSeen:
        """Go through a capture; arguments as for ``observe``. A slow one is gone through again, as there."""
        search = self._reader.search()
        with ThreadPoolExecutor(1, "netcheck-observe") as thread:

            def passed(
                stream: CaptureStream, silences: Mapping[int, int], *, is_searched: bool
            ) -> tuple[SurveyMeter, ObservationPass]:
                meter = SurveyMeter(self._plan, silences)
                passing = ObservationPass(watches, windows, name, thread, meter.tally, TURNS)
                for chunk in stream:
                    beside = [partial(search.take, chunk)] if is_searched else []
                    meter.add(chunk, [*beside, *passing.tasks(chunk)])
                return meter, passing

            meter, passing = passed(stream, {}, is_searched=True)
            silences = meter.tally.silences()
            again = stream.again() if silences else None
            if again is not None:
                stream = again.reusing_buffers()
                meter, passing = passed(stream, silences, is_searched=False)
            seen = passing.result(stream)
        once = (READ_ONCE,) if silences and again is None else ()
        self.surveys.append(meter.result(stream, once))
        self.streams.append(search.streams())
        if any(meter.tally.wire(number).strangers for number in range(len(stream.channels))):
            return self._unbounded(stream, watches, windows, ratios, name) or seen
        channels = seen.channels if ratios else tuple(replace(one, load=None) for one in seen.channels)
        return replace(seen, channels=channels, warnings=(*seen.warnings, *once))

    @staticmethod
    def _unbounded(
        stream: CaptureStream,
        watches: Sequence[Watch],
        windows: Sequence[tuple[Window, ...]],
        ratios: frozenset[float] | None,
        name: str,
    ) -> CaptureSeen | None:
        """A pass of its own where there are more ids than a survey tells apart."""
        again = stream.again()
        return observe(again.reusing_buffers(), watches, windows, ratios, name, TURNS) if again else None


def _look(
    context: PlanContext,
    loaded: LoadedCapture,
    seen: CaptureSeen,
    surveyed: Survey,
    streams: Mapping[Address, int],
    ratios: frozenset[float],
) -> CaptureLook:
    uses = [use for use in context.captures.uses if use.file == loaded.name]
    networks = {use.channel: use.network if not use.is_left_out else None for use in uses}
    edges = capture_edges(seen, context.captures.watches, networks)
    has_times = all(use.has_times for use in uses)
    channels = {}
    for entry in surveyed.channels:
        network = networks.get(entry.channel)
        if network is None:
            continue
        traffic = next(
            captured.channel.traffic
            for captured in context.captures.by_network[network].channels
            if (captured.file, captured.channel.name) == (loaded.name, entry.channel)
        )
        known = messages_by_id(traffic, context.databases[network])
        channels[entry.channel] = ChannelLook(loaded.name, network, entry, edges, known, has_times)
    names = tuple(entry.channel for entry in surveyed.channels)
    return CaptureLook(loaded, edges, has_times, names, channels, streams, ratios)
