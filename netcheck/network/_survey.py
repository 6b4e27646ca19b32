"""One pass over a capture: what is on its channels."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck._compile import kernels
from netcheck.capture import ERROR, Capture, CaptureStream
from netcheck.database import Database, Message
from netcheck.errors import UsageError
from netcheck.network import _survey_book as book_of
from netcheck.network._claims import CLAIMED, names_in
from netcheck.network._errors import ErrorTally
from netcheck.network._identity import identify, may_be_chance, messages_by_id
from netcheck.network._j1939 import is_j1939, take_apart
from netcheck.network._load import LoadMeter, ratio_of
from netcheck.network._profiles import DataIds, ProfileTally, check_data_ids
from netcheck.network._ranking import Evidence, rank
from netcheck.network._recorder import RecorderTally
from netcheck.network._remarks import remarks_on
from netcheck.network._survey_book import Book
from netcheck.network._survey_findings import (
    byte_kinds,
    checksum_of,
    count_of,
    counter_of,
    samples_of,
    timing_of,
)
from netcheck.network._survey_model import (
    ChannelSurvey,
    DataIdProblem,
    DataIdProblemKind,
    LoadRates,
    Survey,
    SurveyedMessage,
)
from netcheck.network._traffic import FrameId, Traffic

_KERNELS: Final = kernels("netcheck.network._survey_kernels")


@dataclass(frozen=True)
class SurveyPlan:
    """What is known before a survey.

    networks: candidates by name
    rates:    bit rates of those networks that state them
    stated:   bit rates the user gave for all channels; they come before those of a network
    data_ids: AUTOSAR data ids by id: one (profile 1), or 16 (profile 2)
    """

    networks: Mapping[str, Database] = field(default_factory=dict)
    rates: Mapping[str, LoadRates] = field(default_factory=dict)
    stated: LoadRates | None = None
    data_ids: DataIds = field(default_factory=dict)

    def ratios(self) -> frozenset[float]:
        """Every ratio of data-phase to nominal bit rate that a channel may turn out to have."""
        possible = [self.stated] if self.stated else list(self.rates.values())
        return frozenset(ratio_of(rates) for rates in possible)


def survey(stream: CaptureStream, plan: SurveyPlan | None = None) -> Survey:
    """Look at a whole capture once, in memory that does not grow with it.

    Raises InputError as reading the capture does, UsageError for data ids that are of no profile.
    """
    plan = plan or SurveyPlan()
    check_data_ids(plan.data_ids)
    meter = _Meter(plan)
    for chunk in stream.reusing_buffers():
        meter.add(chunk)
    channels = meter.channels(stream.channels)
    return Survey(
        file=stream.file,
        frames=stream.frames,
        seconds=meter.seconds,
        skipped=stream.skipped,
        warnings=stream.warnings,
        networks=tuple(plan.networks),
        channels=channels,
        data_id_problems=tuple(meter.data_id_problems()),
    )


class _ChannelSurvey:
    """What is not in the book."""

    def __init__(self, plan: SurveyPlan) -> None:
        self.load = LoadMeter(plan.ratios())
        self.errors = ErrorTally()
        self.profiles = ProfileTally(plan.data_ids)
        self.recorder = RecorderTally()

    def add(self, chunk: Capture, number: int, rows: NDArray[np.int64]) -> None:
        self.load.add(chunk, rows)
        self.profiles.add(chunk, rows)
        self.recorder.add(chunk, rows)
        if (chunk.flags[rows] & ERROR).any():
            self.errors.add(chunk, number)


class _Meter:
    def __init__(self, plan: SurveyPlan) -> None:
        self._plan = plan
        self._book = Book.empty()
        self._meters: list[_ChannelSurvey] = []

    def add(self, chunk: Capture) -> None:
        """Take a chunk; frames before it must have come before."""
        columns = chunk.columns
        self._book.state[book_of.DONE] = 0
        _KERNELS.take(columns, self._book)
        while self._book.state[book_of.DONE] < len(chunk):
            self._book = self._book.grown()
            _KERNELS.take(columns, self._book)
        self._meters += [_ChannelSurvey(self._plan) for _ in chunk.channels[len(self._meters) :]]
        for number, meter in enumerate(self._meters):
            rows = np.flatnonzero(chunk.channel == number)
            if len(rows):
                meter.add(chunk, number, rows)

    def data_id_problems(self) -> Iterator[DataIdProblem]:
        """Data ids that show nothing."""
        tallies = [meter.profiles for meter in self._meters]
        for frame_id in self._plan.data_ids:
            problems = [tally.problem(frame_id) for tally in tallies if tally.has_seen(frame_id)]
            if not problems:
                yield DataIdProblem(DataIdProblemKind.ABSENT, frame_id)
            elif all(problems) and problems[0] is not None:
                yield problems[0]

    @property
    def seconds(self) -> float:
        """From the earliest frame to the latest."""
        heard = self._book.channels[: len(self._meters)]
        if not len(heard):
            return 0.0
        return int(heard[:, book_of.C_LATEST].max() - heard[:, book_of.C_EARLIEST].min()) / 1e9

    def channels(self, names: tuple[str, ...]) -> tuple[ChannelSurvey, ...]:
        """Closes the book; call once."""
        _KERNELS.finish(self._book)
        keys = self._book.rows[: self._book.state[book_of.IDS], book_of.I_KEY]
        ids: list[list[int]] = [[] for _ in names]
        for number in np.argsort(keys, kind="stable").tolist():
            ids[int(keys[number]) >> 30].append(number)
        start_ns = int(self._book.channels[: len(names), book_of.C_EARLIEST].min(initial=1 << 62))
        return tuple(
            _Closing(self._plan, self._book, meter, numbers).channel(number, name, start_ns)
            for number, (name, meter, numbers) in enumerate(zip(names, self._meters, ids, strict=True))
        )


class _Closing:
    """One channel's entries of the book as a result."""

    def __init__(self, plan: SurveyPlan, book: Book, meter: _ChannelSurvey, numbers: list[int]) -> None:
        self._plan = plan
        self._book = book
        self._meter = meter
        keys = book.rows[numbers, book_of.I_KEY].tolist()
        self._ids = {
            FrameId(key & 0x1FFFFFFF, bool(key >> 29 & 1)): number
            for key, number in zip(keys, numbers, strict=True)
        }

    def channel(self, number: int, name: str, start_ns: int) -> ChannelSurvey:
        row = self._book.channels[number].tolist()
        traffic = self._traffic(row)
        networks = self._plan.networks
        identity = identify(traffic, networks)
        evidence = {
            frame_id: Evidence(timing_of(self._book, entry), samples_of(self._book, entry))
            for frame_id, entry in self._ids.items()
        }
        candidates = rank(traffic, evidence, networks, identity)
        rates = self._plan.stated
        if rates is None and identity.network is not None:
            found = networks[identity.network]
            if not may_be_chance(candidates[0].explained, traffic, found):
                rates = self._plan.rates.get(identity.network)
        known = messages_by_id(traffic, networks[identity.network]) if identity.network else {}
        declared = any(message.is_j1939 for message in known.values())
        counts = {
            frame_id.can_id: count_of(self._book, entry)
            for frame_id, entry in self._ids.items()
            if frame_id.is_extended
        }
        speaks_j1939 = bool(counts) and is_j1939(counts, declared)
        stretches = self._stretches(number, start_ns)
        result = ChannelSurvey(
            channel=name,
            frames=row[book_of.C_FRAMES],
            seconds=traffic.seconds,
            data_frames=row[book_of.C_FRAMES] - row[book_of.C_ERRORS] - row[book_of.C_REMOTES],
            fd_frames=row[book_of.C_FD],
            remote_frames=row[book_of.C_REMOTES],
            error_frames=row[book_of.C_ERRORS],
            errors=self._meter.errors.result(),
            stretches=stretches,
            network=identity.network,
            candidates=candidates,
            rates=rates,
            bits=self._meter.load.bits(),
            load=None,
            messages=tuple(
                self._message(frame_id, entry, known.get(frame_id), evidence[frame_id], speaks_j1939)
                for frame_id, entry in self._ids.items()
            ),
            is_j1939=speaks_j1939,
            recorder=self._meter.recorder.result(),
            unseen=_unseen(networks[identity.network], known.values()) if identity.network else (),
        )
        if rates is not None:
            load = self._meter.load.load(rates, result.seconds, result.awake_seconds)
            result = replace(result, load=load)
        return replace(result, remarks=remarks_on(result, traffic, networks, row[book_of.C_BEYOND]))

    def _traffic(self, row: list[int]) -> Traffic:
        lengths = {}
        for frame_id, entry in self._ids.items():
            counts = self._book.lengths[entry]
            lengths[frame_id] = {int(length): int(counts[length]) for length in np.flatnonzero(counts)}
        return Traffic(row[book_of.C_FRAMES], row[book_of.C_EARLIEST], row[book_of.C_LATEST], lengths)

    def _stretches(self, number: int, start_ns: int) -> tuple[tuple[float, float], ...]:
        rows = self._book.stretches[1 : self._book.state[book_of.STRETCHES]]
        mine = rows[rows[:, book_of.S_CHANNEL] == number][:, [book_of.S_START, book_of.S_END]]
        return tuple((start, end) for start, end in ((mine - start_ns) / 1e9).tolist())

    def _message(
        self, frame_id: FrameId, entry: int, message: Message | None, seen: Evidence, speaks_j1939: bool
    ) -> SurveyedMessage:
        counts = self._book.lengths[entry]
        checksum = self._meter.profiles.result(frame_id) or checksum_of(self._book, entry)
        parts = take_apart(frame_id.can_id) if speaks_j1939 and frame_id.is_extended else None
        return SurveyedMessage(
            frame_id=frame_id,
            name=message.name if message else "",
            senders=message.senders if message else (),
            declared_length=message.length if message else None,
            declared_cycle_ms=message.cycle_time_ms if message else None,
            count=count_of(self._book, entry),
            fd_count=int(self._book.rows[entry, book_of.I_FD]),
            lengths={int(length): int(counts[length]) for length in np.flatnonzero(counts)},
            timing=seen.timing,
            kinds=byte_kinds(self._book, entry),
            counter=counter_of(self._book, entry),
            checksum=checksum,
            j1939=parts,
            claims=names_in(seen.payloads) if parts is not None and parts.group == CLAIMED else (),
        )


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
