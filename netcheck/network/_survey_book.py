"""What a survey keeps of every id while a capture goes by: memory grows with the ids, not the frames."""

from __future__ import annotations

from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

MOST_IDS: Final = 8192  # ids looked at one by one; frames of further ids are only counted
BYTES: Final = 64
SAMPLES: Final = 16  # different payloads kept of an id
CANDIDATES: Final = 4  # places of an id that may be a counter

# places in a channel's row
C_FRAMES: Final = 0  # of any kind
C_ERRORS: Final = 1
C_REMOTES: Final = 2
C_EARLIEST: Final = 3  # time stamp of any frame, ns
C_LATEST: Final = 4
C_STRETCH: Final = 5  # row of its awake stretch, 0 before the first
C_FD: Final = 6
C_BEYOND: Final = 7  # frames of ids beyond MOST_IDS
C_SIZE: Final = 8

# places in a stretch's row
S_CHANNEL: Final = 0
S_START: Final = 1  # ns
S_END: Final = 2
S_BEFORE: Final = 3  # row of the channel's stretch before, 0 if none
S_SIZE: Final = 4

# places in an id's row
I_KEY: Final = 0  # channel << 30 | 29-bit << 29 | id
I_COUNT: Final = 1
I_LAST: Final = 2  # time of the last frame, ns
I_STRETCH: Final = 3  # row of the stretch it was in
I_LONGEST: Final = 4  # longest gap while awake, ns
I_GAPS: Final = 5
I_LENGTH: Final = 6  # of the last frame
I_RUN: Final = 7  # frames with the payload of the last one, in a row
I_RUNS: Final = 8  # such rows that are over
I_DISTINCT: Final = 9  # payloads in ``samples``
I_FD: Final = 10
I_STEPS: Final = 11  # from frame to frame inside a stretch
I_TRIAL: Final = 12  # steps of the trial that looks for counters
I_SIZE: Final = 13

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

# places in a candidate counter's row; then, for 1 to 8 low bits, three numbers each
K_BIT: Final = 0  # lowest bit + 1, 0 for no candidate
K_STEPS: Final = 1
K_RESETS: Final = 2  # steps from 14 to 0 of four bits
K_RIGHT: Final = 3  # [+ bits] steps of +1
K_WRAPS: Final = 12  # [+ bits] of these, from all ones to zero
K_CARRIES: Final = 21  # [+ bits] of these, the bit above changed
K_SIZE: Final = 30

# Gaps are counted in buckets: 256 of 1024 ns, then 256 for each doubling, so that one is 0.4 % wide at most.
PAGE: Final = 256
OCTAVES: Final = 30
FIRST_OCTAVE: Final = 18  # gaps below 2^18 ns are on page 0

# places in a book's state
DONE: Final = 0  # frames of the chunk at hand
IDS: Final = 1
PAGES: Final = 2
STRETCHES: Final = 3


class Book(NamedTuple):
    """Arrays that the kernels of a survey write; the first axis of the middle group is the id's number.

    table:    open-addressed: number of an id + 1, 0 if empty
    channels: rows by channel index
    stretches: awake stretches, row 0 unused
    rows:     one row an id
    lengths:  frames by payload length
    last:     payload of the last frame
    changes:  runs at whose beginning a byte changed
    tests, constants: per kind of checksum and byte, how often it held and the number it gives
    possible: per kind, a bit for each byte that may still be the checksum
    misses:   per bit, steps of the trial in which it did not change
    counters: candidates
    samples, sample_lengths, hashes: the first different payloads
    page_of:  page of an octave, 0 if none
    page_counts, page_sums: gaps in a bucket, and by how much together they exceed its lower end, ns
    """

    table: NDArray[np.int32]
    channels: NDArray[np.int64]
    stretches: NDArray[np.int64]
    rows: NDArray[np.int64]
    lengths: NDArray[np.int32]
    last: NDArray[np.uint8]
    changes: NDArray[np.int32]
    tests: NDArray[np.int32]
    constants: NDArray[np.uint8]
    possible: NDArray[np.uint64]
    misses: NDArray[np.uint8]
    counters: NDArray[np.int32]
    samples: NDArray[np.uint8]
    sample_lengths: NDArray[np.uint8]
    hashes: NDArray[np.uint64]
    page_of: NDArray[np.int32]
    page_counts: NDArray[np.int32]
    page_sums: NDArray[np.int64]
    state: NDArray[np.int64]

    @classmethod
    def empty(cls, ids: int = 128, pages: int = 512, stretches: int = 64) -> Book:
        """A book with room for that much; it grows."""
        state = np.zeros(4, np.int64)
        state[PAGES] = state[STRETCHES] = 1
        return cls(
            table=np.zeros(2 * MOST_IDS, np.int32),
            channels=np.zeros((256, C_SIZE), np.int64),
            stretches=np.zeros((stretches, S_SIZE), np.int64),
            rows=np.zeros((ids, I_SIZE), np.int64),
            lengths=np.zeros((ids, BYTES + 1), np.int32),
            last=np.zeros((ids, BYTES), np.uint8),
            changes=np.zeros((ids, BYTES), np.int32),
            tests=np.zeros((ids, KINDS, BYTES, T_SIZE), np.int32),
            constants=np.zeros((ids, KINDS, BYTES), np.uint8),
            possible=np.zeros((ids, KINDS), np.uint64),
            misses=np.zeros((ids, 8 * BYTES), np.uint8),
            counters=np.zeros((ids, CANDIDATES, K_SIZE), np.int32),
            samples=np.zeros((ids, SAMPLES, BYTES), np.uint8),
            sample_lengths=np.zeros((ids, SAMPLES), np.uint8),
            hashes=np.zeros((ids, SAMPLES), np.uint64),
            page_of=np.zeros((ids, OCTAVES), np.int32),
            page_counts=np.zeros((pages, PAGE), np.int32),
            page_sums=np.zeros((pages, PAGE), np.int64),
            state=state,
        )

    def grown(self) -> Book:
        """The same with twice the room where there is none left."""
        full = set()
        if self.state[IDS] == len(self.rows):
            full |= set(self._fields[3:16])
        if self.state[PAGES] == len(self.page_counts):
            full |= {"page_counts", "page_sums"}
        if self.state[STRETCHES] == len(self.stretches):
            full.add("stretches")
        return self._replace(**{name: _doubled(getattr(self, name)) for name in sorted(full)})


def _doubled(array: NDArray[Any]) -> NDArray[Any]:
    larger = np.zeros((2 * len(array), *array.shape[1:]), array.dtype)
    larger[: len(array)] = array
    return larger
