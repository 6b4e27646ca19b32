"""The arrays in which the kernel notes what every bit did: they grow with ids, not with frames."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

PLANES: Final = 32  # of the counters of a lane's 64 bits, least significant first
MOST_FLIPS_PLANE: Final = 8  # a bit is followed through 2^8 changes; after that it is only counted
SAMPLES: Final = 2048  # kept of a message; once there are as many, the grid gets coarser
GAP_BINS: Final = 160  # of gaps, four an octave, from 1 µs
MOST_SILENCES: Final = 256  # kept of a message

# places in the state
DONE: Final = 0  # frames of the chunk at hand that were taken
MESSAGES: Final = 1
LANES: Final = 2
LOGGED: Final = 3  # rows of the log in use
SILENT: Final = 4  # rows of the silences in use
ORIGIN: Final = 5  # time of the first frame, ns
LAST: Final = 6  # latest time stamp, ns
FRAMES: Final = 7
IS_BEGUN: Final = 8
SAMPLED_FROM: Final = 9  # ns after the first frame: samples are taken from there on
SAMPLED_TO: Final = 10
STATE_SIZE: Final = 11

# places in a message's row
M_KEY: Final = 0  # channel · 2^31 + 2^30 if longer than 8 bytes + 2^29 if 29 bit + id
M_LANE: Final = 1  # its first one
M_COUNT: Final = 2
M_FIRST: Final = 3  # ns
M_LAST: Final = 4
M_TYPICAL: Final = 5  # running median of its gaps, ns
M_LENGTH: Final = 6  # longest payload
M_SAMPLES: Final = 7
M_GRID: Final = 8  # its samples are the first frames behind multiples of 2^grid ns
M_SILENCES: Final = 9
M_SIZE: Final = 10


class MovementBook(NamedTuple):
    """What is known of the frames before.

    by_id:    int64, (a power of two, 2): an open-addressed table of keys with their messages, -1 if empty
    messages: int64, (n, M_SIZE)
    gaps:     int32, (n, GAP_BINS): how many gaps of a message, by length
    sampled:  int64, (n, SAMPLES): times of a message's samples, ns
    before:   uint64, (lanes,): eight payload bytes each, little-endian, of the last frame
    first:    uint64, (lanes,): of the first one
    live:     uint64, (lanes,): the bits that are still followed
    planes:   uint64, (lanes, PLANES): how often each bit changed; place p counts 2^p
    joint:    uint64, (lanes, PLANES): how often each bit changed together with the one below it
    crossing: uint64, (lanes, PLANES): how often the lowest bit of a byte changed together with the highest
              bit of the next byte, which is the one below it in a big-endian field
    samples:  uint64, (lanes, SAMPLES)
    log:      int64, (n, 4): where a followed bit changed: lane, time, ns since the frame before,
              the eight bytes
    silences: int64, (n, 3): message, time of the frame before a silence, of that after it
    state:    int64, (STATE_SIZE,)
    """

    by_id: NDArray[np.int64]
    messages: NDArray[np.int64]
    gaps: NDArray[np.int32]
    sampled: NDArray[np.int64]
    before: NDArray[np.uint64]
    first: NDArray[np.uint64]
    live: NDArray[np.uint64]
    planes: NDArray[np.uint64]
    joint: NDArray[np.uint64]
    crossing: NDArray[np.uint64]
    samples: NDArray[np.uint64]
    log: NDArray[np.int64]
    silences: NDArray[np.int64]
    state: NDArray[np.int64]

    @classmethod
    def empty(cls, messages: int, lanes: int, log: int, silences: int) -> MovementBook:
        """Room for that much; memory is used only once it is written."""
        return cls(
            np.full((_power(4 * messages), 2), -1, np.int64),
            np.zeros((messages, M_SIZE), np.int64),
            np.zeros((messages, GAP_BINS), np.int32),
            np.empty((messages, SAMPLES), np.int64),
            np.zeros(lanes, np.uint64),
            np.zeros(lanes, np.uint64),
            np.full(lanes, np.iinfo(np.uint64).max, np.uint64),
            np.zeros((lanes, PLANES), np.uint64),
            np.zeros((lanes, PLANES), np.uint64),
            np.zeros((lanes, PLANES), np.uint64),
            np.empty((lanes, SAMPLES), np.uint64),
            np.empty((log, 4), np.int64),
            np.empty((silences, 3), np.int64),
            np.zeros(STATE_SIZE, np.int64),
        )

    def grown(self) -> MovementBook:
        """The same with twice the room wherever half is used."""
        state = self.state
        messages = _room(len(self.messages), state[MESSAGES])
        lanes = _room(len(self.before), state[LANES] + 8)
        log = _room(len(self.log), state[LOGGED] + 8)
        new = MovementBook.empty(messages, lanes, log, _room(len(self.silences), state[SILENT]))
        for name in self._fields:
            old, target = getattr(self, name), getattr(new, name)
            if name == "by_id" and len(old) != len(target):
                for key, number in old[old[:, 0] >= 0].tolist():
                    _enter(target, key, number)
            else:
                target[: len(old)] = old
        return new


def _room(size: int, used: int) -> int:
    return 2 * size if 2 * used > size else size


def _power(least: int) -> int:
    return 1 << (least - 1).bit_length()


def _enter(table: NDArray[np.int64], key: int, number: int) -> None:
    """As ``slot_of`` finds it."""
    mask = len(table) - 1
    slot = ((key * 0x9E3779B97F4A7C15 & 0xFFFFFFFFFFFFFFFF) >> 32) & mask
    while table[slot, 0] >= 0:
        slot = (slot + 1) & mask
    table[slot] = key, number
