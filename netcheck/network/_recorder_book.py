"""What is kept of one channel to tell the recorder's traces: places in arrays, and limits.

Our own rules, chosen on made-up traffic and on an open recording; each is a guess until it is wrong.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

SLOTS: Final = 2048  # of the table; a power of two
MOST_FOLLOWED: Final = 1024  # ids; frames of further ids are not looked at one by one
TOGETHER_NS: Final = (
    25_000  # two frames cannot be as near: the shortest takes 47 bits, and 1 Mbit/s is the most
)
TRIAL: Final = 8  # steps of +1 in a row before four bits are taken for a counter
ALWAYS: Final = 1024  # frames of an id in all of which a counter is looked for; then in 64 of 256
AWAKE_NS: Final = 1_000_000_000  # a longer gap says nothing of frames that are missing
STALL_NS: Final = 50_000_000  # the shortest silence of all ids that counts
STALL_GAPS: Final = 20  # ... and this many mean times between two frames
WARM: Final = 100  # frames before a mean time is known
KNOWN_GAPS: Final = 20  # of an id
TIMES_MISSED: Final = 3  # an id stayed away in a stall that is as many of its mean gaps
TOGETHER: Final = 3  # ids that stay away, or counters that skip, for it to be one event

# places in an id's row
KEY: Final = 0  # 29-bit << 29 | id, -1 in a free row
FRAMES: Final = 1
LAST: Final = 2  # time of the last frame, ns
GAPS: Final = 3  # while awake
GAP_TIME: Final = 4  # their sum, ns
RUN: Final = 5  # steps of the trial
NIBBLE: Final = 6  # place of the counter's four bits + 1, 0 while none is known
GOOD: Final = 7  # steps of +1
GOOD_TIME: Final = 8
SKIPS: Final = 9  # other steps, but for repeats
SKIP_TIME: Final = 10
MISSING: Final = 11  # frames that skips leave out
REPEATS: Final = 12
RESETS_14: Final = 13  # steps from 14 to 0
RESETS_15: Final = 14  # steps from 15 to 1
TIME_14: Final = 15  # sums of the times of these, ns
TIME_15: Final = 16
SEEN: Final = 17  # a bit for each value
STALL: Final = 18  # number of the stall that the last step went over, 0 for none
SLOT_SIZE: Final = 19

# places in a channel's row
LATEST: Final = 0  # time of the channel's last frame, ns
TAKEN: Final = 1  # frames
ALL_GAPS: Final = 2  # between frames of any id, while awake
ALL_TIME: Final = 3
BATCHED: Final = 4  # gaps shorter than a frame
FOLLOWED: Final = 5  # ids
SINCE: Final = 6  # first skip of those that may be one event: its second frame
SKIPPED: Final = 7  # how many
MOMENTS: Final = 8  # times at which several skipped
STALL_NUMBER: Final = 9
STALL_BEGIN: Final = 10
STALL_END: Final = 11
OVER: Final = 12  # ids that came before and after the stall at hand
OVER_COUNTING: Final = 13  # of these, those with a counter
OVER_SKIPPED: Final = 14  # of these, those whose counter skipped
OVER_LATE: Final = 15  # ids that came again sooner than they usually do
STALLS: Final = 16  # stalls that are over and were one; then the sums of the four above
LONGEST: Final = 17
STALL_SUMS: Final = 18
ROW_SIZE: Final = 22


class RecorderBook(NamedTuple):
    """Arrays that the kernel writes.

    slots: int64 (SLOTS, SLOT_SIZE), open-addressed
    words: uint64 (SLOTS, 2): of an id's last frame, the counter's value or, while none is known, the first
           eight bytes; four-bit places that counted so far
    row:   int64 (ROW_SIZE,)
    """

    slots: NDArray[np.int64]
    words: NDArray[np.uint64]
    row: NDArray[np.int64]

    @classmethod
    def empty(cls) -> RecorderBook:
        """A book of one channel without a frame."""
        slots = np.zeros((SLOTS, SLOT_SIZE), np.int64)
        slots[:, KEY] = -1
        return cls(slots, np.zeros((SLOTS, 2), np.uint64), np.zeros(ROW_SIZE, np.int64))
