"""One pass over a capture: what is on its channels."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import field, replace
from functools import partial

import numpy as np

from netcheck.capture import ERROR, Capture, CaptureStream
from netcheck.database import Database, Message
from netcheck.errors import UsageError
from netcheck.network import _tally_book as book_of
from netcheck.network._claims import CLAIMED, names_in
from netcheck.network._errors import ErrorTally
from netcheck.network._identity import (
    Identity,
    IdentityLevel,
    identify,
    messages_by_id,
    without_diagnostics,
)
from netcheck.network._j1939 import is_j1939, take_apart
from netcheck.network._load import ratio_of
from netcheck.network._profiles import DataIds, ProfileTally, check_data_ids
from netcheck.network._ranking import Evidence, fit_of, rank
from netcheck.network._recorder import RecorderTally, RecorderTraces
from netcheck.network._remarks import remarks_on
from netcheck.network._survey_findings import (
    byte_kinds,
    checksum_of,
    counter_of,
    length_of,
    samples_of,
)
from netcheck.network._survey_model import (
    NO_TIMING,
    Bits,
    ChannelSurvey,
    DataIdProblem,
    DataIdProblemKind,
    LoadRates,
    Survey,
    SurveyedMessage,
    Timing,
)
from netcheck.network._tally import READ_ONCE, FrameTally, MessageSeen
from netcheck.network._traffic import FrameId, Traffic
from netcheck.records import dataclass


@dataclass(frozen=True)
class SurveyPlan:
    """What is known before a survey.

    networks: candidates by name
    rates:    bit rates of those networks that state them
    stated:   bit rates the user gave for all channels; they come before those of a network
    data_ids: AUTOSAR data ids by id: one (profile 1), or 16 (profile 2)
    addresses: diagnostic ids of the vehicle file, which count for no network
    """

    networks: Mapping[str, Database] = field(default_factory=dict)
    rates: Mapping[str, LoadRates] = field(default_factory=dict)
    stated: LoadRates | None = None
    data_ids: DataIds = field(default_factory=dict)
    addresses: Collection[FrameId] = ()

    def ratios(self) -> frozenset[float]:
        """Every ratio of data-phase to nominal bit rate that a channel may turn out to have."""
        possible = [self.stated] if self.stated else list(self.rates.values())
        return frozenset(ratio_of(rates) for rates in possible)


def survey(stream: CaptureStream, plan: SurveyPlan | None = None) -> Survey:
    """Look at a whole capture once, in memory that does not grow with it.

    Raises InputError as reading the capture does, UsageError for data ids that are of no profile.
    """
    plan = plan or SurveyPlan()
    meter = _metered(stream, plan, {})
    once: tuple[str, ...] = ()
    if silences := meter.tally.silences():
        again = stream.again()
        if again is None:
            once = (READ_ONCE,)
        else:
            stream, meter = again, _metered(again, plan, silences)
    return meter.result(stream, once)


def _metered(stream: CaptureStream, plan: SurveyPlan, silences: Mapping[int, int]) -> SurveyMeter:
    meter = SurveyMeter(plan, silences)
    for chunk in stream.reusing_buffers():
        meter.add(chunk)
    return meter


class _Beside:
    """What is counted of one channel beside the tally."""

    def __init__(self, plan: SurveyPlan) -> None:
        self.errors = ErrorTally()
        self.profiles = ProfileTally(plan.data_ids)
        self.recorder = RecorderTally()

    def add(self, chunk: Capture, number: int) -> None:
        """Take a chunk's frames of the channel."""
        rows = np.flatnonzero(chunk.channel == number)
        self.profiles.add(chunk, rows)
        self.recorder.add(chunk, rows)
        if (chunk.flags & ERROR).any():
            self.errors.add(chunk, number)


class SurveyMeter:
    """A survey while the chunks of a capture go by. silences: see ``FrameTally``

    tally: what counts the frames, of which others may make use, too
    """

    def __init__(self, plan: SurveyPlan, silences: Mapping[int, int], *, threads: int | None = None) -> None:
        """threads: see ``FrameTally``. Raises UsageError for data ids that are of no profile."""
        check_data_ids(plan.data_ids)
        self._plan = plan
        self.tally = FrameTally(ratios=plan.ratios(), is_checked=True, silences=silences, threads=threads)
        self._beside: list[_Beside] = []

    def add(self, chunk: Capture, beside: Sequence[Callable[[], None]] = ()) -> None:
        """Take a chunk; frames before it must have come before.

        beside: see ``FrameTally.add``
        """
        self._beside += [_Beside(self._plan) for _ in chunk.channels[len(self._beside) :]]
        own = [partial(one.add, chunk, number) for number, one in enumerate(self._beside)]
        self.tally.add(chunk, [*own, *beside])

    def result(self, stream: CaptureStream, warnings: Sequence[str] = ()) -> Survey:
        """What was seen, after the last chunk of the stream. warnings: further ones"""
        return Survey(
            file=stream.file,
            frames=stream.frames,
            seconds=self._seconds if stream.has_times else 0.0,
            skipped=stream.skipped,
            warnings=(*stream.warnings, *warnings),
            networks=tuple(self._plan.networks),
            channels=self._channels(stream.channels, has_times=stream.has_times),
            data_id_problems=tuple(self._data_id_problems()),
            has_times=stream.has_times,
        )

    def _data_id_problems(self) -> Iterator[DataIdProblem]:
        """Data ids that show nothing."""
        for frame_id in self._plan.data_ids:
            problems = [
                one.profiles.problem(frame_id) for one in self._beside if one.profiles.has_seen(frame_id)
            ]
            if not problems:
                yield DataIdProblem(DataIdProblemKind.ABSENT, frame_id)
            elif all(problems) and problems[0] is not None:
                yield problems[0]

    @property
    def _seconds(self) -> float:
        """From the earliest frame to the latest."""
        rows = [self.tally.channel_row(number) for number in range(len(self._beside))]
        latest = max((row[book_of.C_LATEST] for row in rows), default=0)
        return (latest - self._start_ns) / 1e9 if rows else 0.0

    @property
    def _start_ns(self) -> int:
        rows = [self.tally.channel_row(number) for number in range(len(self._beside))]
        return min((row[book_of.C_EARLIEST] for row in rows), default=0)

    def _channels(self, names: tuple[str, ...], *, has_times: bool) -> tuple[ChannelSurvey, ...]:
        start_ns = self._start_ns if has_times else None
        return tuple(
            _Closing(self._plan, self.tally, number, beside, start_ns).channel(name)
            for number, (name, beside) in enumerate(zip(names, self._beside, strict=True))
        )


class _Closing:
    """One channel's counts as a result."""

    def __init__(
        self, plan: SurveyPlan, tally: FrameTally, number: int, beside: _Beside, start_ns: int | None
    ) -> None:
        """start_ns: the capture's earliest frame; None where the frames have no time stamps."""
        self._plan = plan
        self._tally = tally
        self._number = number
        self._beside = beside
        self._start_ns = start_ns
        self._messages = tally.messages(number)

    def channel(self, name: str) -> ChannelSurvey:
        row = self._tally.channel_row(self._number)
        traffic = self._tally.traffic(self._number)
        networks = self._plan.networks
        identity = identify(traffic, networks, addresses=self._plan.addresses)
        counted = without_diagnostics(traffic, self._plan.addresses)
        evidence = {
            frame_id: Evidence(self._timing(seen), samples_of(seen.book, seen.row))
            for frame_id, seen in self._messages.items()
        }
        candidates = rank(counted, evidence, networks, identity)
        rates = self._rates(identity)
        known = messages_by_id(traffic, networks[identity.network]) if identity.network else {}
        declared = any(message.is_j1939 for message in known.values())
        counts = {
            frame_id.can_id: seen.count for frame_id, seen in self._messages.items() if frame_id.is_extended
        }
        speaks_j1939 = bool(counts) and is_j1939(counts, declared)
        load = self._tally.wire(self._number)
        recorder = self._beside.recorder.result() if self._has_times else RecorderTraces()
        result = ChannelSurvey(
            channel=name,
            frames=row[book_of.C_FRAMES],
            seconds=traffic.seconds if self._has_times else 0.0,
            data_frames=row[book_of.C_FRAMES] - row[book_of.C_ERRORS] - row[book_of.C_REMOTES],
            fd_frames=row[book_of.C_FD],
            remote_frames=row[book_of.C_REMOTES],
            error_frames=row[book_of.C_ERRORS],
            errors=self._beside.errors.result(),
            awake_periods=self._awake_periods(),
            network=identity.network,
            identity=identity.level,
            fit=fit_of(candidates) if identity.network else None,
            candidates=candidates,
            rates=rates,
            bits=load.bits() if self._has_times else Bits(load.bits().total, 0, 0),
            load=None,
            messages=tuple(
                self._message(
                    seen, traffic, known.get(frame_id), _seen_through(recorder, seen, evidence), speaks_j1939
                )
                for frame_id, seen in self._messages.items()
            ),
            is_j1939=speaks_j1939,
            recorder=recorder,
            unseen=_unseen(networks[identity.network], known.values()) if identity.network else (),
            has_times=self._has_times,
        )
        if rates is not None and self._has_times:
            result = replace(result, load=load.shares(rates, result.seconds, result.awake_seconds))
        return replace(result, remarks=remarks_on(result, counted, networks, row[book_of.C_BEYOND]))

    def _rates(self, identity: Identity) -> LoadRates | None:
        if self._plan.stated is not None:
            return self._plan.stated
        is_known = identity.level is IdentityLevel.IDENTIFIED
        return self._plan.rates.get(identity.network or "") if is_known else None

    @property
    def _has_times(self) -> bool:
        return self._start_ns is not None

    def _timing(self, seen: MessageSeen) -> Timing:
        return seen.timing() if self._has_times else NO_TIMING

    def _awake_periods(self) -> tuple[tuple[float, float], ...]:
        if self._start_ns is None:
            return ()
        seconds = (self._tally.awake_periods(self._number) - self._start_ns) / 1e9
        return tuple(zip(*seconds.T.tolist(), strict=True))

    def _message(
        self,
        seen: MessageSeen,
        traffic: Traffic,
        message: Message | None,
        evidence: Evidence,
        speaks_j1939: bool,
    ) -> SurveyedMessage:
        frame_id, lengths = seen.frame_id, traffic.lengths[seen.frame_id]
        length = length_of(lengths)
        checksum = self._beside.profiles.result(frame_id) or checksum_of(seen.book, seen.row, length)
        parts = take_apart(frame_id.can_id) if speaks_j1939 and frame_id.is_extended else None
        return SurveyedMessage(
            frame_id=frame_id,
            name=message.name if message else "",
            senders=message.senders if message else (),
            declared_length=message.length if message else None,
            declared_cycle_ms=message.cycle_time_ms if message else None,
            count=seen.count,
            fd_count=int(seen.book.rows[seen.row, book_of.I_FD]),
            lengths=lengths,
            timing=evidence.timing,
            kinds=byte_kinds(seen.book, seen.row, length),
            counter=counter_of(seen.book, seen.row),
            checksum=checksum,
            j1939=parts,
            claims=names_in(evidence.payloads) if parts is not None and parts.group == CLAIMED else (),
        )


def _seen_through(recorder: RecorderTraces, seen: MessageSeen, found: Mapping[FrameId, Evidence]) -> Evidence:
    """What is known of a message, without a period where only the recorder makes it look irregular."""
    evidence = found[seen.frame_id]
    timing = evidence.timing
    if timing.cyclic is not False or timing.at_changes or timing.period is None:
        return evidence
    is_hidden = recorder.is_batched and timing.period < 2 * recorder.batch_ms
    if is_hidden or recorder.loses(seen.frame_id):
        return replace(evidence, timing=replace(timing, cyclic=None, period=None))
    return evidence


def _unseen(database: Database, came: Iterable[Message]) -> tuple[str, ...]:
    names = {message.name for message in came}
    return tuple(message.name for message in database.messages if message.name not in names)


def survey_rates(bitrate: int | None, fd_bitrate: int | None) -> LoadRates | None:
    """Bit rates that a user states. Raises UsageError for a number that is none."""
    for value in (bitrate, fd_bitrate):
        if value is not None and not 1_000 <= value <= 20_000_000:
            raise UsageError(f"{value} is no bit rate", remedy="in bit/s, such as 500000")
    if bitrate is None:
        if fd_bitrate is not None:
            raise UsageError("a data-phase bit rate without --bitrate", remedy="give both")
        return None
    return LoadRates(bitrate, fd_bitrate)
