"""The job's captures: read once, each channel taken for a network, and what each network showed."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import partial

from netcheck.capture import CaptureStream, open_capture
from netcheck.database import Database
from netcheck.errors import InputError
from netcheck.evidence import CaptureSeen, ChannelSeen, Observation, Window, observe, window
from netcheck.files import LoadedCapture, LoadedJob, LoadedMark, When
from netcheck.network import (
    Candidate,
    ChannelLoad,
    FrameId,
    Identity,
    IdentityLevel,
    LoadRates,
    identify,
    merged_loads,
    ratio_of,
)
from netcheck.records import dataclass
from netcheck.roles import ResolvedRole, RolesByName, Watch, diagnostic_addresses, labels_of, raw_values
from netcheck.verdict._model import ChannelUse

Progress = Callable[[str, int, int], None]  # name of the capture, bytes done, bytes in all
Observer = Callable[
    [CaptureStream, Sequence[Watch], Sequence[tuple[Window, ...]], frozenset[float] | None, str], CaptureSeen
]  # goes through a capture as ``observe`` does


@dataclass(frozen=True)
class CapturedChannel:
    """One channel that is a network: its traffic and observations, one per watch."""

    file: str
    channel: ChannelSeen


@dataclass(frozen=True)
class NetworkCaptures:
    """What the captures show of one network.

    channels:    the channels that are this network; none: it was not captured
    uses:        the same, as a report names them
    misdeclared: channels that the job says are this network and whose traffic is not
    diagnostics: channels that the job says are this network and that carry nothing but diagnostics
    """

    network: str
    channels: tuple[CapturedChannel, ...]
    uses: tuple[ChannelUse, ...] = ()
    misdeclared: tuple[ChannelUse, ...] = ()
    diagnostics: tuple[ChannelUse, ...] = ()

    @property
    def is_captured(self) -> bool:
        """Whether some channel is this network."""
        return bool(self.channels)

    @property
    def is_doubtful(self) -> bool:
        """Whether too few ids fit on each of its channels to trust what the DBC says."""
        return self.is_captured and all(use.is_doubtful for use in self.uses)

    @property
    def has_times(self) -> bool:
        """Whether some channel has time stamps."""
        return any(entry.channel.has_times for entry in self.channels)

    @property
    def awake_s(self) -> float:
        """How long it was awake, over all captures with times."""
        return sum(entry.channel.awake_s for entry in self.channels)

    @property
    def seconds(self) -> float:
        """How long it was listened to, over all captures."""
        return sum(entry.channel.traffic.seconds for entry in self.channels if entry.channel.has_times)

    def observation(self, number: int) -> Observation:
        """What was seen of watch ``number``, over all captures."""
        total = Observation()
        for captured in self.channels:
            total += captured.channel.observations[number]
        return total

    @property
    def load(self) -> ChannelLoad | None:
        """How full it was, over all captures; None where that was not asked for, or nothing was captured."""
        loads = [captured.channel.load for captured in self.channels if captured.channel.load is not None]
        return merged_loads(loads) if loads else None

    def count(self, frame_id: FrameId) -> int:
        """How many frames of an id were seen."""
        return sum(
            count
            for captured in self.channels
            for count in captured.channel.traffic.lengths.get(frame_id, {}).values()
        )


@dataclass(frozen=True)
class JobCaptures:
    """All captures of a job, by network."""

    by_network: Mapping[str, NetworkCaptures]
    uses: tuple[ChannelUse, ...]
    captures: tuple[CaptureSeen, ...]
    watches: tuple[Watch, ...]

    def observation(self, watch: Watch | None) -> Observation:
        """What was seen of a watch on its own network; an empty one without a watch or a capture."""
        if watch is None:
            return Observation()
        return self.by_network[watch.network].observation(self.watches.index(watch))


def read_captures(
    job: LoadedJob,
    databases: Mapping[str, Database],
    roles: RolesByName,
    watches: Sequence[Watch],
    progress: Progress | None = None,
    when: When = "before",
    observer: Observer = observe,
) -> JobCaptures:
    """Read the captures taken before the fitting, or after it.

    observer: goes through each of them

    Raises InputError for a capture that cannot be read, a channel it does not have, a mark wholly outside
    it, or one whose state the role's signal does not have.
    """
    ratios = _ratios(job)
    channels: list[tuple[ChannelUse, CapturedChannel]] = []
    captures: list[CaptureSeen] = []
    identified_by = _Identifier(job, databases)
    for loaded in job.captures:
        if loaded.when != when:
            continue
        seen = _read(loaded, roles, watches, ratios, progress, observer)
        captures.append(seen)
        _check_channels(job, loaded, seen)
        for channel, vins in zip(seen.channels, seen.vins, strict=True):
            use = replace(identified_by.use(loaded, channel), vins=vins)
            channels.append((use, CapturedChannel(loaded.name, channel)))
    trusted = {use.network for use, _ in channels if use.level is IdentityLevel.IDENTIFIED}
    channels = [
        (replace(use, is_left_out=use.is_doubtful and use.network in trusted), captured)
        for use, captured in channels
    ]
    by_network = {name: _of_network(name, channels) for name in databases}
    uses = tuple(use for use, _ in channels)
    return JobCaptures(by_network, uses, tuple(captures), tuple(watches))


def _of_network(name: str, channels: Sequence[tuple[ChannelUse, CapturedChannel]]) -> NetworkCaptures:
    taken = [(use, captured) for use, captured in channels if use.network == name and not use.is_left_out]
    refused = [use for use, _ in channels if use.declared == name and use.network is None]
    return NetworkCaptures(
        name,
        channels=tuple(captured for _, captured in taken),
        uses=tuple(use for use, _ in taken),
        misdeclared=tuple(use for use in refused if not use.is_diagnostics_only),
        diagnostics=tuple(use for use in refused if use.is_diagnostics_only),
    )


class _Identifier:
    """Takes channels for networks, by their traffic and by what the job says."""

    def __init__(self, job: LoadedJob, databases: Mapping[str, Database]) -> None:
        self._databases = databases
        self._addresses = diagnostic_addresses(job.vehicle.model, job.model_year)
        self._new = {name: sent_by_items(job, name) for name in databases}

    def use(self, loaded: LoadedCapture, channel: ChannelSeen) -> ChannelUse:
        """The network a channel is taken for."""
        identity = identify(
            channel.traffic, self._databases, addresses=self._addresses, sent_by_items=self._new
        )
        declared = loaded.channels.get(channel.name)
        level = identity.level if declared is None else identity.declared(declared)
        network = identity.network if declared is None else declared
        return ChannelUse(
            file=loaded.name,
            channel=channel.name,
            network=network if level is not IdentityLevel.NONE else None,
            frames=channel.traffic.frames,
            seconds=channel.traffic.seconds if channel.has_times else 0.0,
            declared=declared,
            level=level,
            ids=identity.ids,
            candidates=_candidates(identity, declared),
            is_diagnostics_only=identity.is_diagnostics_only,
            has_times=channel.has_times,
        )


def sent_by_items(job: LoadedJob, network: str) -> frozenset[FrameId]:
    """Ids that the job's items will send on a network: not expected before the fitting."""
    return frozenset(
        FrameId(supply.message_id, supply.is_extended)
        for item in job.items
        if item.network == network
        for supply in item.retrofit.supply
        if supply.message_id is not None
    )


def _candidates(identity: Identity, declared: str | None) -> tuple[Candidate, ...]:
    """Those that explain an id; the declared one first, whatever it explains."""
    found = [candidate for candidate in identity.candidates if candidate.explained]
    if declared is None:
        return tuple(found)
    others = [candidate for candidate in found if candidate.network != declared]
    return (identity.candidate(declared), *others)


def _ratios(job: LoadedJob) -> frozenset[float] | None:
    """Of data-phase to nominal bit rate, on networks where items will send; None where none will."""
    sending = {item.network for item in job.items if item.retrofit.supplies} - {None}
    models = job.vehicle.model.network
    rates = [LoadRates(models[name].bitrate, models[name].fd_bitrate) for name in sending if name is not None]
    return frozenset(map(ratio_of, rates)) if rates else None


def _read(
    loaded: LoadedCapture,
    roles: RolesByName,
    watches: Sequence[Watch],
    ratios: frozenset[float] | None,
    progress: Progress | None,
    observer: Observer,
) -> CaptureSeen:
    for entry in loaded.marks:
        _check_state(entry, roles.get(entry.mark.role, ()))
    windows = [windows_of(loaded, watch) for watch in watches]
    stream = open_capture(loaded.path, progress=partial(progress, loaded.name) if progress else None)
    seen = observer(stream.reusing_buffers(), watches, windows, ratios, loaded.name)
    for entry in loaded.marks if seen.has_times else ():
        if entry.mark.from_ > seen.seconds or entry.mark.to < 0:
            raise InputError(
                entry.file,
                f"the mark from {entry.mark.from_:g} to {entry.mark.to:g} s lies outside {loaded.name}",
                where=entry.where,
                remedy=f"the capture ends {seen.seconds:.1f} s after its first frame",
            )
    return seen


def windows_of(loaded: LoadedCapture, watch: Watch) -> tuple[Window, ...]:
    """The marks of a capture as they apply to a watch."""
    return tuple(_windows(loaded, watch))


def _windows(loaded: LoadedCapture, watch: Watch) -> Iterator[Window]:
    for entry in loaded.marks:
        mark = entry.mark
        if mark.role != watch.role:
            continue
        found = window(mark, f"{loaded.path} {entry.file} {entry.where}", watch)
        if found is not None:
            yield found


def _check_state(entry: LoadedMark, sources: tuple[ResolvedRole, ...]) -> None:
    """Refuse a mark whose state none of the role's signals has."""
    watches = [source.watch for source in sources if source.watch is not None]
    state = entry.mark.state
    if not watches or entry.mark.between is not None or state is None:
        return
    if state in {"active", "inactive"}:
        if not any(watch.active for watch in watches):
            raise InputError(
                entry.file,
                f"role {entry.mark.role} has no active states in the vehicle file",
                where=f"{entry.where}.state",
                remedy="mark a label or a range (between = [low, high]), or give the role active states",
            )
    elif not any(raw_values(watch.signal, state) for watch in watches):
        signal = watches[0].signal
        raise InputError(
            entry.file,
            f"signal {signal.name} of role {entry.mark.role} has no value labelled '{state}'",
            where=f"{entry.where}.state",
            remedy=f"active, or {labels_of(signal)}" if watches[0].active else labels_of(signal),
        )


def _check_channels(job: LoadedJob, loaded: LoadedCapture, seen: CaptureSeen) -> None:
    names = [channel.name for channel in seen.channels]
    for name in loaded.channels:
        if name not in names:
            raise InputError(
                job.source(),
                f"{loaded.name} has no channel {name}",
                where=f"{loaded.where}.channels" if loaded.where else "",
                remedy=f"it has {', '.join(names)}",
            )
