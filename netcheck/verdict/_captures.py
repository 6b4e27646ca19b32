"""The job's captures: read once, each channel taken for a network, and what each network showed."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial

from netcheck.capture import open_capture
from netcheck.database import Database
from netcheck.errors import InputError
from netcheck.evidence import CaptureSeen, ChannelSeen, Observation, Window, observe, window
from netcheck.files import LoadedCapture, LoadedJob, LoadedMark
from netcheck.network import (
    Candidate,
    ChannelLoad,
    FrameId,
    Identity,
    LoadTally,
    identify,
    may_be_chance,
    merged_loads,
)
from netcheck.roles import ResolvedRole, RolesByName, Watch, labels_of, raw_values
from netcheck.verdict._model import ChannelUse

Progress = Callable[[str, int, int], None]  # name of the capture, bytes done, bytes in all


@dataclass(frozen=True)
class CapturedChannel:
    """One channel that is a network: its traffic and observations, one per watch.

    load: how full it was, where some item will send there with a known period and length
    """

    file: str
    channel: ChannelSeen
    load: ChannelLoad | None = None


@dataclass(frozen=True)
class NetworkCaptures:
    """What the captures show of one network.

    channels: the channels that are this network; none: it was not captured
    misdeclared: channels that the job says are this network and whose traffic is not
    """

    network: str
    channels: tuple[CapturedChannel, ...]
    misdeclared: tuple[ChannelUse, ...]

    @property
    def is_captured(self) -> bool:
        """Whether some channel is this network."""
        return bool(self.channels)

    @property
    def seconds(self) -> float:
        """How long it was listened to, over all captures."""
        return sum(heard.channel.traffic.seconds for heard in self.channels)

    def observation(self, number: int) -> Observation:
        """What was seen of watch ``number``, over all captures."""
        total = Observation()
        for heard in self.channels:
            total += heard.channel.observations[number]
        return total

    @property
    def load(self) -> ChannelLoad | None:
        """How full it was, over all captures; None where that was not asked for, or nothing was heard."""
        loads = [heard.load for heard in self.channels if heard.load is not None]
        return merged_loads(loads) if loads else None

    def count(self, frame_id: FrameId) -> int:
        """How many frames of an id were seen."""
        return sum(
            count
            for heard in self.channels
            for count in heard.channel.traffic.lengths.get(frame_id, {}).values()
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
) -> JobCaptures:
    """Read the captures taken before the fitting.

    Raises InputError for a capture that cannot be read, a channel it does not have, a mark wholly outside
    it, or one whose state the role's signal does not have.
    """
    heard: dict[str, list[CapturedChannel]] = {network: [] for network in databases}
    misdeclared: dict[str, list[ChannelUse]] = {network: [] for network in databases}
    loaded_networks = {
        item.network for item in job.items if any(supply.is_timed for supply in item.retrofit.supply)
    } - {None}
    uses: list[ChannelUse] = []
    captures: list[CaptureSeen] = []
    for loaded in job.captures:
        if loaded.when != "before":
            continue
        tally = LoadTally() if loaded_networks else None
        seen = _read(loaded, roles, watches, tally, progress)
        captures.append(seen)
        _check_channels(job, loaded, seen)
        for number, channel in enumerate(seen.channels):
            use = _use(loaded, channel, databases)
            uses.append(use)
            if use.network is not None:
                load = tally.result(number) if tally is not None and use.network in loaded_networks else None
                heard[use.network].append(CapturedChannel(loaded.name, channel, load))
            elif use.declared is not None:
                misdeclared[use.declared].append(use)
    taps = {name: NetworkCaptures(name, tuple(heard[name]), tuple(misdeclared[name])) for name in databases}
    return JobCaptures(taps, tuple(uses), tuple(captures), tuple(watches))


def _read(
    loaded: LoadedCapture,
    roles: RolesByName,
    watches: Sequence[Watch],
    tally: LoadTally | None,
    progress: Progress | None,
) -> CaptureSeen:
    for entry in loaded.marks:
        _check_state(entry, roles.get(entry.mark.role, ()))
    windows = [tuple(_windows(loaded, watch)) for watch in watches]
    stream = open_capture(loaded.path, progress=partial(progress, loaded.name) if progress else None)
    seen = observe(stream.reusing_buffers(), watches, windows, tally.add if tally is not None else None)
    for entry in loaded.marks:
        if entry.mark.from_ > seen.seconds or entry.mark.to < 0:
            raise InputError(
                entry.file,
                f"the mark from {entry.mark.from_:g} to {entry.mark.to:g} s lies outside {loaded.name}",
                where=entry.where,
                remedy=f"the capture ends {seen.seconds:.1f} s after its first frame",
            )
    return seen


def _windows(loaded: LoadedCapture, watch: Watch) -> Iterator[Window]:
    for entry in loaded.marks:
        mark = entry.mark
        if mark.role != watch.role:
            continue
        state = mark.state if mark.between is None else f"{mark.between[0]:g} to {mark.between[1]:g}"
        label = f"{state} {mark.from_:g}–{mark.to:g} s in {loaded.name}"
        found = window(mark, f"{loaded.path} {entry.file} {entry.where}", label, watch)
        if found is not None:
            yield found


def _check_state(entry: LoadedMark, sources: tuple[ResolvedRole, ...]) -> None:
    """Refuse a mark whose state none of the role's signals has."""
    watches = [source.watch for source in sources if source.watch is not None]
    state = entry.mark.state
    if not watches or entry.mark.between is not None or state is None:
        return
    if state == "active":
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


def _use(loaded: LoadedCapture, channel: ChannelSeen, databases: Mapping[str, Database]) -> ChannelUse:
    identity = identify(channel.traffic, databases)
    declared = loaded.channels.get(channel.name)
    if declared is None:
        network = identity.network
    else:
        network = declared if identity.candidate(declared).is_possible else None
    explained = identity.candidate(network).explained if network is not None else 0
    return ChannelUse(
        file=loaded.name,
        channel=channel.name,
        network=network,
        frames=channel.traffic.frames,
        seconds=channel.traffic.seconds,
        declared=declared,
        ids=identity.ids,
        candidates=_candidates(identity, declared),
        is_doubtful=network is not None and may_be_chance(explained, channel.traffic, databases[network]),
    )


def _candidates(identity: Identity, declared: str | None) -> tuple[Candidate, ...]:
    """Those that explain an id; the declared one first, whatever it explains."""
    found = [candidate for candidate in identity.candidates if candidate.explained]
    if declared is None:
        return tuple(found)
    others = [candidate for candidate in found if candidate.network != declared]
    return (identity.candidate(declared), *others)
