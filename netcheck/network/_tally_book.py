"""The arrays of a tally, which its kernels write: they grow with ids and awake periods, not with frames."""

from __future__ import annotations

from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from netcheck.network._gaps import GapBook

MOST_IDS: Final = 8192  # of all channels, looked at one by one; frames of further ids are only counted
CHANNELS: Final = 256  # a channel is one byte
BYTES: Final = 64
WORDS: Final = BYTES // 8
SAMPLES: Final = 16  # different payloads kept of an id
CHANGES: Final = 64  # changes of an id's payload whose gaps are kept
CANDIDATES: Final = 4  # places of an id that may be a counter
RING: Final = 1 << 15  # time stamps of a second: no bus has room for more frames

# places in a tally's state
DONE: Final = 0  # frames of the chunk at hand that were placed
ENTRIES: Final = 1
MESSAGES: Final = 2
PERIODS: Final = 3  # rows of awake periods in use; row 0 is none
BREAKS: Final = 4  # in the chunk at hand
IS_BOUNDED: Final = 5  # 1: frames of ids beyond MOST_IDS have no entry

# places in a channel's row
C_FRAMES: Final = 0  # of any kind
C_EARLIEST: Final = 1  # time stamp of any frame, ns
C_LATEST: Final = 2
C_ERRORS: Final = 3
C_REMOTES: Final = 4
C_FIRST: Final = 5  # of the frames that are not nobody's: time of the first, ns; the rest is of these, too
C_LAST: Final = 6
C_FD: Final = 7
C_BEYOND: Final = 8  # frames of ids beyond MOST_IDS
C_PERIOD: Final = 9  # row of its awake period, 0 before the first
C_NUMBER: Final = 10  # number of that, 0 for the first
C_SILENCE: Final = 11  # longest silence inside an awake period, ns
C_SIZE: Final = 12

# places in an entry's row
E_KEY: Final = 0  # channel · 2^38 + width · 2^37 + id · 2^8 + length
E_FRAMES: Final = 1
E_MESSAGE: Final = 2  # number of its id, -1 beyond MOST_IDS
E_SIZE: Final = 3

# places in a message's row: an id on a channel
M_KEY: Final = 0  # channel · 2^30 + width · 2^29 + id
M_COUNT: Final = 1
M_LAST: Final = 2  # time of the last frame, ns
M_PERIOD: Final = 3  # row of the awake period it was in; with the next one, of a tally with shards only
M_LONGEST: Final = 4  # longest gap while awake, borders of awake periods counted like frames, ns
M_SIZE: Final = 5

# places in an awake period's row; its end is known when the next one begins
P_CHANNEL: Final = 0
P_START: Final = 1  # ns
P_END: Final = 2
P_BEFORE: Final = 3  # row of the channel's period before, 0 if none
P_LONGER: Final = 4  # row of the last one before that was longer, 0 if none
P_JUMP: Final = 5  # a row further back along these, see ``longest_after``
P_DEPTH: Final = 6  # how many of these there are
P_SIZE: Final = 7


class TallyTables(NamedTuple):
    """What is known of the frames before.

    by_length: int64, (a power of two, 2): an open-addressed table of keys with their entries, -1 if empty
    by_id:     int64, likewise: of keys with their messages
    entries:   int64, (half as many, E_SIZE)
    channels:  int64, (CHANNELS, C_SIZE)
    messages:  int64, (n, M_SIZE)
    periods:   int64, (n, P_SIZE)
    state:     int64, (6,)
    """

    by_length: NDArray[np.int64]
    by_id: NDArray[np.int64]
    entries: NDArray[np.int64]
    channels: NDArray[np.int64]
    messages: NDArray[np.int64]
    periods: NDArray[np.int64]
    state: NDArray[np.int64]

    @classmethod
    def empty(cls, entries: int = 1 << 11, messages: int = 256, periods: int = 64) -> TallyTables:
        """Tables with room for that much."""
        state = np.zeros(6, np.int64)
        state[PERIODS] = 1
        return cls(
            np.full((2 * entries, 2), -1, np.int64),
            np.full((4 * messages, 2), -1, np.int64),
            np.zeros((entries, E_SIZE), np.int64),
            np.zeros((CHANNELS, C_SIZE), np.int64),
            np.zeros((messages, M_SIZE), np.int64),
            np.zeros((periods, P_SIZE), np.int64),
            state,
        )


class Placed(NamedTuple):
    """Where the n frames of a chunk belong.

    entry:  int32[n], the entry with the frame's channel, id and length; -1 for a frame that is nobody's or
            of an id beyond what is told apart
    awake:  int32[n], number of its channel's awake period that it lies in, the first being 0; undefined for
            a frame that is nobody's
    gap:    int64[n], ns since the frame before of its id in the awake period, -1 where there is none
    wire:   int32[n], bits on the wire: of the nominal phase, and 2^16 times those of the data phase; -1 while
            not known. Gaps and bits are filled in by a tally with shards only
    breaks: int64, (m, 3): where a new awake period begins, its channel, the time of the frame before and its
            own
    rows:   int32, (shards, n): the frames of each shard
    counts: int64, (shards,): how many
    """

    entry: NDArray[np.int32]
    awake: NDArray[np.int32]
    gap: NDArray[np.int64]
    wire: NDArray[np.int32]
    breaks: NDArray[np.int64]
    rows: NDArray[np.int32]
    counts: NDArray[np.int64]

    @classmethod
    def empty(cls, frames: int, shards: int) -> Placed:
        """Room for that many frames."""
        return cls(
            np.empty(frames, np.int32),
            np.empty(frames, np.int32),
            np.empty(frames, np.int64),
            np.empty(frames, np.int32),
            np.empty((frames, 3), np.int64),
            np.empty((shards, frames), np.int32),
            np.zeros(shards, np.int64),
        )


# places in the row of a message in its shard
I_COUNT: Final = 0
I_LENGTH: Final = 1  # of the last frame
I_KIND: Final = 2  # flags of the last frame
I_WIRE: Final = 3  # bits of the last frame, as in ``Placed``
I_MOST: Final = 4  # longest payload
I_FLAGS: Final = 5  # of all frames together
I_FD: Final = 6
I_BITS: Final = 7  # on the wire, of all frames, by phase
I_FAST_BITS: Final = 8
I_RUN: Final = 9  # frames with the payload of the last one, in a row
I_RUNS: Final = 10  # such rows that are over
I_DISTINCT: Final = 11  # payloads in ``samples``
I_STEPS: Final = 12  # from frame to frame inside an awake period
I_TRIAL: Final = 13  # steps of the trial that looks for counters
I_PENDING: Final = 14  # changes in ``pending``
I_HEADER: Final = 15  # of the last frame if it was a classic one, see ``classic_header``
I_CHANGES: Final = 16  # gaps in ``change_gaps``
I_SIZE: Final = 17

# kinds of checksum; what a kind gives for a frame that is right is always the same number
CRC_1D: Final = 0
CRC_2F: Final = 1
SUM_OF_OTHERS: Final = 2
SUM_OF_ALL: Final = 3
XOR_OF_ALL: Final = 4
KINDS: Final = 5

# places in a test's row
T_PASSED: Final = 0  # frames
T_FAILED: Final = 1
T_PASSED_RUNS: Final = 2  # payloads, each counted once however often it was repeated
T_FAILED_RUNS: Final = 3
T_SIZE: Final = 4

# places in a candidate counter's row; then, for 0 to 8 low bits, three numbers each
K_BIT: Final = 0  # lowest bit + 1, 0 for no candidate
K_STEPS: Final = 1
K_RESETS: Final = 2  # steps from 14 to 0 of four bits
K_RIGHT: Final = 3  # [+ bits] steps that are +1 in that many low bits and no more
K_WRAPS: Final = 12  # [+ bits] of these, that go from all ones to zero in that many low bits and no more
K_CARRIES: Final = 21  # [+ bits] of these, the bit above changed
K_SIZE: Final = 30


class MessageBook(NamedTuple):
    """What is kept of the payloads of each message of a shard, by its number there.

    rows:     one row a message
    last:     payload of the last frame as little-endian words, zeros behind it
    pending:  a byte for each byte of the payload: runs at whose beginning it changed …
    changes:  … which are added up here
    tests, constants: per kind of checksum and byte, how often it held and the number it gives
    possible: per kind, a bit for each byte that may still be the checksum
    misses:   per bit, steps of the trial in which it did not change
    counters: candidates
    samples, sample_lengths, hashes: the first different payloads, as ``last``
    change_gaps: before the first frames whose payload is another than that before, while awake, ns
    state:    (1,): frames of the shard at hand that were taken
    """

    rows: NDArray[np.int64]
    last: NDArray[np.uint64]
    pending: NDArray[np.uint64]
    changes: NDArray[np.int32]
    tests: NDArray[np.int32]
    constants: NDArray[np.uint8]
    possible: NDArray[np.uint64]
    misses: NDArray[np.uint8]
    counters: NDArray[np.int32]
    samples: NDArray[np.uint64]
    sample_lengths: NDArray[np.uint8]
    hashes: NDArray[np.uint64]
    change_gaps: NDArray[np.int64]
    state: NDArray[np.int64]

    @classmethod
    def empty(cls, messages: int) -> MessageBook:
        """A book with room for that many."""
        return cls(
            rows=np.zeros((messages, I_SIZE), np.int64),
            last=np.zeros((messages, WORDS), np.uint64),
            pending=np.zeros((messages, WORDS), np.uint64),
            changes=np.zeros((messages, BYTES), np.int32),
            tests=np.zeros((messages, KINDS, BYTES, T_SIZE), np.int32),
            constants=np.zeros((messages, KINDS, BYTES), np.uint8),
            possible=np.full((messages, KINDS), 0xFFFFFFFFFFFFFFFF, np.uint64),
            misses=np.zeros((messages, 8 * BYTES), np.uint8),
            counters=np.zeros((messages, CANDIDATES, K_SIZE), np.int32),
            samples=np.zeros((messages, SAMPLES, WORDS), np.uint64),
            sample_lengths=np.zeros((messages, SAMPLES), np.uint8),
            hashes=np.zeros((messages, SAMPLES), np.uint64),
            change_gaps=np.zeros((messages, CHANGES), np.int64),
            state=np.zeros(1, np.int64),
        )

    def grown(self, messages: int) -> MessageBook:
        """The same with room for that many."""
        more = MessageBook.empty(messages)
        for name in self._fields[:-1]:
            getattr(more, name)[: len(self.rows)] = getattr(self, name)
        return more


class Shard(NamedTuple):
    """Every so many-th message: its payloads, and its gaps while awake."""

    book: MessageBook
    gaps: GapBook

    def grown(self, messages: int) -> Shard:
        """The same with room for so many messages, and for their gaps."""
        book = self.book if messages <= len(self.book.rows) else self.book.grown(2 * messages)
        return Shard(book, self.gaps.grown(len(book.rows)))


# places in a channel's row of the load book
L_NOMINAL: Final = 0  # bits of all frames, by phase
L_FAST: Final = 1
L_LATEST: Final = 2  # time stamp, ns
L_END: Final = 3  # time stamps so far
L_BEGIN: Final = 4  # [+ window] the first of them that is in the window
L_SUM: Final = 6  # [+ window] bits in the window, as in ``bits``
L_LEAST: Final = 8  # [+ window] with no more bits of both phases than that there is no new peak
L_SIZE: Final = 10
WINDOWS_NS: Final = (100_000_000, 1_000_000_000)


class LoadBook(NamedTuple):
    """Bits on the wire by channel. Of two phases in one number, those of the data phase count 2^32 times.

    rows:      int64, (channels, L_SIZE)
    times:     int64, (channels, RING): time stamps, each at its number modulo RING
    bits:      int64, likewise: bits of the frames that have it
    peaks:     float64, (channels, ratios, windows): most bits of a window, those of the data phase over the
               ratio
    peak_bits: int64, likewise: what they are made of
    ratios:    float64, (ratios,): data-phase bit rate over the nominal one
    """

    rows: NDArray[np.int64]
    times: NDArray[np.int64]
    bits: NDArray[np.int64]
    peaks: NDArray[np.float64]
    peak_bits: NDArray[np.int64]
    ratios: NDArray[np.float64]

    @classmethod
    def empty(cls, channels: int, ratios: NDArray[np.float64]) -> LoadBook:
        """A book for that many channels."""
        shape = channels, len(ratios), len(WINDOWS_NS)
        return cls(
            np.zeros((channels, L_SIZE), np.int64),
            np.zeros((channels, RING), np.int64),
            np.zeros((channels, RING), np.int64),
            np.zeros(shape, np.float64),
            np.zeros(shape, np.int64),
            ratios,
        )

    def grown(self, channels: int) -> LoadBook:
        """The same for more channels."""
        more = LoadBook.empty(channels, self.ratios)
        for name in self._fields[:-1]:
            getattr(more, name)[: len(self.rows)] = getattr(self, name)
        return more


def doubled(array: NDArray[Any]) -> NDArray[Any]:
    """The same rows and as many empty ones."""
    larger = np.zeros((2 * len(array), *array.shape[1:]), array.dtype)
    larger[: len(array)] = array
    return larger
