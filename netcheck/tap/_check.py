"""Am I on the right pair? One item of a job against one pair of wires."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import closing
from pathlib import Path

from netcheck.capture import open_capture
from netcheck.database import Database
from netcheck.errors import InputError, UsageError
from netcheck.evidence import observe
from netcheck.files import LoadedItem, LoadedJob, Measured, Network, one_of
from netcheck.network import ChannelSurvey, IdentityLevel, LoadRates, SurveyPlan, survey
from netcheck.records import dataclass
from netcheck.roles import RolesByName, diagnostic_addresses, load_networks, resolve_roles, watches
from netcheck.tap._model import Finding, Listened, RoleFound, TapCaution, TapCheck, worst
from netcheck.tap._readings import readings
from netcheck.tap._roles import Pair, find_roles
from netcheck.tap._traffic import Recorder, findings, is_network, not_listened, silence


@dataclass(frozen=True)
class Recorded:
    """A recording of the pair.

    path:    None: somebody listened, and not one frame came
    source:  what it is called: the file as the user named it, or with ``is_live`` the interface and channel
    channel: which channel of it; None where it has one
    bitrate: what the recorder was set to, where that is known
    has_wire: False where the frames came through software, which has no bit rate
    """

    path: Path | None
    source: str
    channel: str | None = None
    bitrate: int | None = None
    has_wire: bool = True
    is_live: bool = False


def choose_item(job: LoadedJob, name: str | None) -> LoadedItem:
    """The job's item of that name; without a name, its only one. Raises UsageError otherwise."""
    names = [item.retrofit.name for item in job.items]
    if name is None and len(job.items) == 1:
        return job.items[0]
    if name is None:
        raise UsageError("the job has several items", remedy=f"say which with --item: {', '.join(names)}")
    for item in job.items:
        if item.retrofit.name == name:
            return item
    raise UsageError(f"--item: the job has no item '{name}'", remedy=one_of(name, names))


def check_tap(
    job: LoadedJob,
    item: LoadedItem,
    recorded: Recorded | None = None,
    measured: Measured | None = None,
    *,
    cache: bool = True,
) -> TapCheck:
    """Look at one pair of wires for one item of a job.

    measured: readings of this pair; None takes those of the job file, if they are of the item's network

    Raises InputError for a recording that cannot be read or does not have the channel.
    """
    databases = load_networks(job.vehicle, cache=cache)
    traffic = _traffic_of(job, item, recorded, databases)
    network = traffic.network
    model = job.vehicle.model.network[network] if network is not None else None
    taken = measured if measured is not None else _of_job(job, network)
    read = readings(taken, model) if model is not None else ()
    states = [
        *(finding.state for finding in traffic.findings),
        *(role.state for role in traffic.roles),
        *(reading.assessment.state for reading in read if reading.assessment is not None),
    ]
    return TapCheck(
        job=job.name,
        vehicle=job.vehicle.model.name,
        model_year=job.model_year,
        item=item.retrofit.name,
        title=item.retrofit.title or item.retrofit.name,
        network=network,
        place=model.tap if model else "",
        physical=model.physical if model else "",
        bitrate=model.bitrate if model else None,
        fd_bitrate=model.fd_bitrate if model else None,
        verdict=worst(states),
        listened=traffic.listened,
        findings=traffic.findings,
        roles=traffic.roles,
        readings=read,
        cautions=tuple(TapCaution),
        warnings=(*job.notes, *traffic.warnings),
        unused_readings=measured is None and job.measured is not None and taken is None,
        readings_network=job.measured.network if job.measured is not None else None,
        identity=traffic.identity,
    )


@dataclass(frozen=True)
class _Traffic:
    """What the recording came to. network: the item's, or the one that it shows where the job names none."""

    network: str | None
    findings: tuple[Finding, ...]
    listened: Listened | None = None
    roles: tuple[RoleFound, ...] = ()
    warnings: tuple[str, ...] = ()
    identity: IdentityLevel | None = None


def _traffic_of(
    job: LoadedJob, item: LoadedItem, recorded: Recorded | None, databases: Mapping[str, Database]
) -> _Traffic:
    if recorded is None:
        return _Traffic(item.network, (not_listened(item.network),))
    if recorded.path is None:
        nothing = Listened(recorded.source, recorded.channel or "", 0, 0, 0.0, recorded.is_live)
        return _Traffic(item.network, (silence(item.network),), nothing)
    channel, warnings = _surveyed(recorded, recorded.path, databases, job)
    recorder = Recorder(recorded.bitrate, recorded.has_wire)
    found = tuple(findings(channel, item.network, job.vehicle.model, recorder))
    listened = Listened(
        recorded.source,
        channel.channel,
        channel.frames,
        channel.error_frames,
        channel.seconds,
        recorded.is_live,
        channel.has_times,
    )
    network = item.network or channel.network
    roles: tuple[RoleFound, ...] = ()
    if network is not None and is_network(channel, item.network):
        sources = resolve_roles(job, databases)
        roles = _roles(job, item, recorded.path, channel, (network, sources))
    return _Traffic(network, found, listened, roles, warnings, channel.identity)


def _surveyed(
    recorded: Recorded, path: Path, databases: Mapping[str, Database], job: LoadedJob
) -> tuple[ChannelSurvey, tuple[str, ...]]:
    """The channel of the recording that is looked at."""
    models: Mapping[str, Network] = job.vehicle.model.network
    rates = {name: LoadRates(model.bitrate, model.fd_bitrate) for name, model in models.items()}
    with closing(open_capture(path)) as stream:
        addresses = diagnostic_addresses(job.vehicle.model, job.model_year)
        result = survey(stream, SurveyPlan(databases, rates, addresses=addresses))
    names = [channel.channel for channel in result.channels]
    if recorded.channel is None and len(names) > 1:
        raise InputError(
            recorded.source,
            f"has {len(names)} channels, but a pair is one channel",
            remedy=f"say which with --channel: {', '.join(names)}",
        )
    wanted = recorded.channel or names[0]
    for channel in result.channels:
        if channel.channel == wanted:
            return channel, result.warnings
    raise InputError(recorded.source, f"has no channel {wanted}", remedy=f"it has {', '.join(names)}")


def _roles(
    job: LoadedJob, item: LoadedItem, path: Path, channel: ChannelSurvey, place: tuple[str, RolesByName]
) -> tuple[RoleFound, ...]:
    """place: the network, and where the vehicle file has each role."""
    network, sources = place
    looked = watches(sources, [need.role for need in item.retrofit.need])
    with closing(open_capture(path)) as stream:
        capture = observe(stream, looked, [()] * len(looked))
    seen = next(entry for entry in capture.channels if entry.name == channel.channel)

    def suppliers(role: str) -> list[str]:
        return [
            other.retrofit.name
            for other in job.items
            if other is not item
            and other.network == network
            and any(role in supply.roles for supply in other.retrofit.supply)
        ]

    return find_roles(
        Pair(network, seen, looked, channel.awake_seconds), item.retrofit.need, sources, suppliers
    )


def _of_job(job: LoadedJob, network: str | None) -> Measured | None:
    """The job file's readings, if they are of this network."""
    measured = job.measured
    if measured is None or network is None:
        return None
    networks = {entry.network for entry in job.items} - {None}
    if measured.network is None and len(networks) > 1:
        raise InputError(
            job.source(),
            "is missing, and the items are on several networks",
            where="measured.network",
            remedy=f"say which pair was measured: {', '.join(sorted(name for name in networks if name))}",
        )
    return measured if measured.network in (None, network) else None
