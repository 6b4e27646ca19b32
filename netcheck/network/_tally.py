"""The one tally of a capture's traffic: what plan, survey and tap know of it is counted here, once.

Each chunk goes three ways, the first and the last of them in file order:

1. ``place_frames`` looks up each frame's entry (channel, id, length) and message (channel, id), finds awake
   periods, and notes the gap to the message's frame before.
2. ``take`` goes over the messages, on all cores: each shard has every so many-th message and all that is
   known of it, so that nothing has to be put together afterwards. Gaps while awake, bits on the wire, and,
   for a survey, counters, checksums and samples of the payloads.
3. ``add_load`` puts the bits into the windows of 100 ms and of a second that end with a frame.

Who only wants to know where frames belong has the first way alone.

A channel is awake while its frames follow each other within a second, or 2.5 times its shortest median gap of
a message (asleep or awake) if that is longer. It is longer only where no message comes every 400 ms or
sooner, which is known at the end of the capture: then ``silences`` says so, and the capture is gone through
once more with a tally that begins with them.

Memory grows with ids (8,192 are looked at one by one) and with awake periods, not with frames.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from functools import cached_property, partial
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from netcheck._compile import kernels
from netcheck.capture import BRS, FD, Capture, cores
from netcheck.network import _tally_book as book_of
from netcheck.network._gaps import GapBook, Gaps
from netcheck.network._load import ChannelLoad, MessageLoad, Peak
from netcheck.network._survey_findings import CYCLIC_GAPS, change_gaps_of, is_cyclic, timing_of
from netcheck.network._survey_model import Timing
from netcheck.network._tally_book import LoadBook, MessageBook, Placed, Shard, TallyTables, doubled
from netcheck.network._traffic import SILENCE_NS, SILENCE_SHARE, FrameId, Traffic, TrafficTally
from netcheck.records import dataclass

_PLACING: Final = kernels("netcheck.network._tally_kernels")
_LOADING: Final = kernels("netcheck.network._load_kernels")
_TAKING: Final = kernels("netcheck.network._message_kernels")
_EXACT: Final = 64  # rows for the different gaps of a message; half are used
READ_ONCE: Final = (
    "the file cannot be read twice, so awake periods of slow channels end after a silence of 1 s, too"
)
_ALONE: Final = 1 << 13  # frames of a chunk for which no other thread is asked


class Entries(NamedTuple):
    """Kinds of frames by channel, id and length, in the order in which they first came."""

    channel: NDArray[np.int64]
    can_id: NDArray[np.uint32]
    is_extended: NDArray[np.bool_]
    length: NDArray[np.uint8]
    frames: NDArray[np.int64]


@dataclass(frozen=True)
class MessageSeen:
    """What was counted of one id on one channel.

    longest_ns: longest time without it while awake, borders of awake periods counted like frames
    shard, row: where the rest is
    """

    frame_id: FrameId
    count: int
    longest_ns: int
    shard: Shard
    row: int

    @property
    def book(self) -> MessageBook:
        """Its payloads."""
        return self.shard.book

    @cached_property
    def gaps(self) -> Gaps:
        """Between its frames, while the channel is awake."""
        return self.shard.gaps.gaps(self.row)

    def timing(self) -> Timing:
        """Its period, and whether it is sent at changes, too."""
        return timing_of(self.gaps, self.longest_ns, change_gaps_of(self.book, self.row))

    def load(self) -> MessageLoad:
        """What it takes of the wire."""
        row = self.book.rows[self.row].tolist()
        gaps = self.gaps
        return MessageLoad(
            count=self.count,
            length=row[book_of.I_MOST],
            is_fd=bool(row[book_of.I_FLAGS] & FD),
            is_fast=bool(row[book_of.I_FLAGS] & BRS),
            bits=row[book_of.I_BITS] / self.count,
            fast_bits=row[book_of.I_FAST_BITS] / self.count,
            median_ns=gaps.percentile_ns(50),
            mean_ns=gaps.mean_ns,
            is_cyclic=len(gaps) >= CYCLIC_GAPS and is_cyclic(gaps),
        )


class FrameTally:
    """Counts the frames of all channels of a capture, a chunk at a time."""

    def __init__(
        self,
        *,
        ratios: frozenset[float] | None = None,
        is_checked: bool = False,
        silences: Mapping[int, int] | None = None,
        shards: int | None = None,
        threads: int | None = None,
    ) -> None:
        """What is wanted.

        ratios:     bits on the wire and gaps are, too; each possible ratio of data-phase to nominal bit rate
                    is followed, 1 always
        is_checked: counters, checksums and samples of the payloads are, too; then ids beyond the most that
                    are told apart are no traffic
        silences:   per channel, the longest silence inside an awake period in ns, where it is not a second
        shards:     a power of two; by default as many as keep the threads busy
        threads:    by default as many as there are cores
        """
        self._cores = threads or cores()
        self._tables = TallyTables.empty()
        self._tables.channels[:, book_of.C_SILENCE] = SILENCE_NS
        for channel, silence_ns in (silences or {}).items():
            self._tables.channels[channel, book_of.C_SILENCE] = silence_ns
        self._tables.state[book_of.IS_BOUNDED] = is_checked
        self._slow = GapBook.empty(len(self._tables.messages), _EXACT)
        self._is_checked = is_checked
        count = shards or (1 if self._cores == 1 else min(1 << self._cores.bit_length(), 32))
        self._shards = [_new_shard() for _ in range(count if ratios is not None else 0)]
        self._load = LoadBook.empty(1, np.array(sorted((ratios or frozenset()) | {1.0})))
        self._placed = Placed.empty(0, len(self._shards))
        self.placed = self._placed
        self._threads: ThreadPoolExecutor | None = None
        self._is_closed = False
        self._seen: dict[int, dict[FrameId, MessageSeen]] = {}  # per channel, once it is closed

    def add(self, chunk: Capture, beside: Sequence[Callable[[], None]] = ()) -> None:
        """Take a chunk. ``placed`` tells where its frames belong until the next one is taken.

        beside: what else is to be done, by any thread, once the frames are placed
        """
        size = len(chunk)
        if len(self._placed.entry) < size:
            self._placed = Placed.empty(size, len(self._shards))
        columns, placed = chunk.columns, self._placed
        placed.counts.fill(0)
        state = self._tables.state
        state[book_of.DONE] = state[book_of.BREAKS] = 0
        _PLACING.place_frames(columns, self._tables, self._slow, placed)
        while state[book_of.DONE] < size:
            self._grow()
            _PLACING.place_frames(columns, self._tables, self._slow, placed)
        self.placed = placed._replace(
            entry=placed.entry[:size],
            awake=placed.awake[:size],
            breaks=placed.breaks[: state[book_of.BREAKS]],
        )
        self._take(chunk, placed, beside)
        if self._shards:
            channels = len(chunk.channels)
            if channels > len(self._load.rows):
                self._load = self._load.grown(channels)
            _LOADING.add_load(columns, placed, self._load)

    def _grow(self) -> None:
        tables, state = self._tables, self._tables.state
        if state[book_of.ENTRIES] == len(tables.entries):
            by_length = np.full((4 * len(tables.entries), 2), -1, np.int64)
            _PLACING.enter(by_length, tables.entries, int(state[book_of.ENTRIES]))
            tables = tables._replace(by_length=by_length, entries=doubled(tables.entries))
        if state[book_of.MESSAGES] == len(tables.messages):
            by_id = np.full((4 * len(tables.messages), 2), -1, np.int64)
            _PLACING.enter(by_id, tables.messages, int(state[book_of.MESSAGES]))
            tables = tables._replace(by_id=by_id, messages=doubled(tables.messages))
        if state[book_of.PERIODS] == len(tables.periods):
            tables = tables._replace(periods=doubled(tables.periods))
        self._tables = tables
        self._slow = self._slow.grown(len(tables.messages))

    def _take(self, chunk: Capture, placed: Placed, beside: Sequence[Callable[[], None]]) -> None:
        """The shards' frames, by several threads where there are many."""
        numbers = [number for number in range(len(self._shards)) if placed.counts[number]]
        tasks: list[Callable[[], None]] = [*beside]
        tasks += [partial(self._take_shard, number, chunk, placed) for number in numbers]
        if self._cores == 1 or len(chunk) < _ALONE:
            for task in tasks:
                task()
            return
        if self._threads is None:
            self._threads = ThreadPoolExecutor(self._cores, "netcheck-tally")
        for done in [self._threads.submit(task) for task in tasks]:
            done.result()

    def _take_shard(self, number: int, chunk: Capture, placed: Placed) -> None:
        count, shift = int(placed.counts[number]), len(self._shards).bit_length() - 1
        needed = self._messages_of(number)
        shard = self._shards[number]
        if needed > len(shard.book.rows):
            shard = shard.grown(needed)
        shard.book.state[0] = 0
        arguments = placed.rows[number], count, placed, self._tables.entries
        _TAKING.take(chunk.columns, *arguments, shard, shift, self._is_checked)
        while shard.book.state[0] < count:
            shard = shard.grown(needed)
            _TAKING.take(chunk.columns, *arguments, shard, shift, self._is_checked)
        self._shards[number] = shard

    def _messages_of(self, shard: int) -> int:
        """How many messages a shard has."""
        return -((shard - int(self._tables.state[book_of.MESSAGES])) // len(self._shards))

    # -- results

    def channel_row(self, channel: int) -> list[int]:
        """A channel's counts; places in it are in ``_tally_book``."""
        row: list[int] = self._tables.channels[channel].tolist()
        return row

    def entries(self, since: int = 0) -> Entries:
        """The entries so far, from number ``since`` on."""
        key, count, _ = self._tables.entries[since : self._tables.state[book_of.ENTRIES]].T
        can_id = (key >> 8 & 0x1FFFFFFF).astype(np.uint32)
        return Entries(key >> 38, can_id, (key >> 37 & 1) == 1, (key & 0xFF).astype(np.uint8), count)

    def heard_ns(self) -> dict[int, tuple[int, int]]:
        """Times of the first and the last frame in file order, of channels with more than nobody's."""
        channels = self._tables.channels
        columns = [book_of.C_FIRST, book_of.C_LAST]
        heard = np.flatnonzero(channels[:, book_of.C_PERIOD])
        return {int(row): tuple(channels[row, columns].tolist()) for row in heard}

    def traffic(self, channel: int) -> Traffic:
        """What one channel carried."""
        row = self.channel_row(channel)
        entries = self.entries()
        own = entries.channel == channel
        tally = TrafficTally()
        if row[book_of.C_FRAMES]:
            tally.add_span(row[book_of.C_FRAMES], row[book_of.C_EARLIEST], row[book_of.C_LATEST])
        tally.add_frames(
            entries.can_id[own], entries.is_extended[own], entries.length[own], entries.frames[own]
        )
        return tally.result()

    def awake_periods(self, channel: int) -> NDArray[np.int64]:
        """int64, (n, 2): start and end of each of a channel's awake periods, ns."""
        rows = self._tables.periods[1 : self._tables.state[book_of.PERIODS]]
        found = rows[rows[:, book_of.P_CHANNEL] == channel][:, [book_of.P_START, book_of.P_END]]
        if len(found):
            found[-1, 1] = self._tables.channels[channel, book_of.C_LAST]
        return np.asarray(found)

    def messages(self, channel: int) -> dict[FrameId, MessageSeen]:
        """Each id of a channel that was looked at, those of 11 bits first. No chunk comes after it."""
        if channel not in self._seen:
            self._seen[channel] = self._messages(channel)
        return self._seen[channel]

    def _messages(self, channel: int) -> dict[FrameId, MessageSeen]:
        self._close()
        rows = self._tables.messages[: self._tables.state[book_of.MESSAGES]]
        keys = rows[:, book_of.M_KEY]
        mine = np.flatnonzero(keys >> 30 == channel)
        found = {}
        for number in mine[np.argsort(keys[mine])].tolist():
            key = int(keys[number])
            frame_id = FrameId(key & 0x1FFFFFFF, bool(key >> 29 & 1))
            shard, row = number % len(self._shards), number // len(self._shards)
            count, longest = rows[number, [book_of.M_COUNT, book_of.M_LONGEST]].tolist()
            found[frame_id] = MessageSeen(frame_id, count, longest, self._shards[shard], row)
        return found

    def _close(self) -> None:
        if self._is_closed:
            return
        self._is_closed = True
        _PLACING.close_awake(self._tables)
        if self._is_checked:
            for number, shard in enumerate(self._shards):
                _TAKING.close_runs(shard.book, self._messages_of(number))

    def wire(self, channel: int) -> ChannelLoad:
        """How full a channel was; nothing where that was not asked for."""
        if channel >= len(self._load.rows):
            return ChannelLoad()
        row = self._load.rows[channel].tolist()
        peaks = {}
        for place, ratio in enumerate(self._load.ratios.tolist() if row[book_of.L_FAST] else [1.0]):
            sums = self._load.peak_bits[channel, place].tolist()
            peaks[ratio] = tuple(Peak(total & 0xFFFFFFFF, total >> 32) for total in sums)
        beyond = self.channel_row(channel)[book_of.C_BEYOND]
        return ChannelLoad(row[book_of.L_NOMINAL], row[book_of.L_FAST], peaks, strangers=beyond)

    def load(self, channel: int) -> ChannelLoad | None:
        """How full a channel was, and by which ids; None where that was not asked for."""
        if not self._shards:
            return None
        messages = {frame_id: seen.load() for frame_id, seen in sorted(self.messages(channel).items())}
        return replace(self.wire(channel), messages=messages)

    def silences(self) -> dict[int, int]:
        """Channels with pauses that lie inside an awake period, and the longest silence of one, ns.

        Empty where the tally has begun with them.
        """
        rows = self._tables.messages[: self._tables.state[book_of.MESSAGES]]
        found = {}
        for channel in self.heard_ns():
            limit = max(SILENCE_NS, int(SILENCE_SHARE * self._shortest_median(rows, channel)))
            periods = self.awake_periods(channel)
            pauses = np.abs(periods[1:, 0] - periods[:-1, 1])
            if (pauses <= limit).any():
                found[channel] = limit
        return found

    def _shortest_median(self, rows: NDArray[np.int64], channel: int) -> int:
        """Of the gaps of any message of a channel, asleep or awake, ns; 0 for one of SLOW_NS or less."""
        medians = []
        for number in np.flatnonzero(rows[:, book_of.M_KEY] >> 30 == channel).tolist():
            rank, slow = int(rows[number, book_of.M_COUNT]) // 2, self._slow.gaps(number)
            short = int(rows[number, book_of.M_COUNT]) - 1 - len(slow)
            if rank and short >= rank:
                return 0
            if rank:
                medians.append(slow.ranked_ns(rank - short))
        return min(medians, default=0)


def _new_shard() -> Shard:
    messages = 32
    return Shard(MessageBook.empty(messages), GapBook.empty(messages, _EXACT))
