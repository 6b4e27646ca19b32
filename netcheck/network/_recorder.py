"""What the recorder did to a channel's frames, told apart from what the vehicle did.

Frames that were handed over in batches have stamps nearer to each other than frames can be. When the recorder
stalls, all cyclic messages stay away together: the frames come later in a burst, or counters tell that they
are missing. Where counters go on without a step left out, no module sent.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck._compile import kernels
from netcheck.capture import Capture
from netcheck.network._recorder_book import (
    ALL_GAPS,
    ALL_TIME,
    BATCHED,
    GOOD,
    GOOD_TIME,
    KEY,
    LONGEST,
    MISSING,
    MOMENTS,
    NIBBLE,
    OVER,
    REPEATS,
    RESETS_14,
    RESETS_15,
    SEEN,
    SKIP_TIME,
    SKIPS,
    STALL_BEGIN,
    STALL_END,
    STALL_SUMS,
    STALLS,
    TIME_14,
    TIME_15,
    TOGETHER,
    RecorderBook,
)
from netcheck.network._traffic import FrameId
from netcheck.records import dataclass

_KERNELS: Final = kernels("netcheck.network._recorder_kernels")
_BATCHED_SHARE: Final = 0.1  # frames near each other by chance are far fewer
_LEAST_STEPS: Final = 40  # of a counter
_LOST: Final = 0.01  # of the frames of an id
_AGREE: Final = 0.25  # by how much the time of the skips may differ from that of the frames left out


@dataclass(frozen=True)
class SkippingCounter:
    """An id whose counter skips frames, and whose times have room for just these.

    frames: that came, while the counter was known; missing: by the counter
    """

    frame_id: FrameId
    frames: int
    missing: int


@dataclass(frozen=True)
class RecorderTraces:
    """What speaks for the recorder rather than for the vehicle.

    batched:  share of the frames stamped less than a frame's time after the one before
    batch_ms: mean time from batch to batch
    skipping: ids of which frames are missing; counting: all ids with a counter that could be followed
    moments:  times at which three counters or more skipped at once
    stalls:   times at which three cyclic messages or more stayed away together; longest_stall_ms: the longest
    stall_counters: messages with a counter that came before and after, at most in one stall
    stalls_late, stalls_lost: most messages came later in a burst; most counters skipped
    """

    batched: float = 0.0
    batch_ms: float = 0.0
    skipping: tuple[SkippingCounter, ...] = ()
    counting: int = 0
    moments: int = 0
    stalls: int = 0
    longest_stall_ms: float = 0.0
    stall_counters: int = 0
    stalls_late: bool = False
    stalls_lost: bool = False

    @property
    def is_batched(self) -> bool:
        """Whether short times rest on stamps that several frames share."""
        return self.batched >= _BATCHED_SHARE

    def loses(self, frame_id: FrameId) -> bool:
        """Whether over 1 % of an id's frames are missing, by counter and time alike."""
        return any(
            entry.frame_id == frame_id and entry.missing > _LOST * (entry.missing + entry.frames)
            for entry in self.skipping
        )

    @property
    def stalls_are_batches(self) -> bool:
        """Whether what looks like stalls is how the recorder always hands frames over."""
        return self.is_batched and self.longest_stall_ms < 3 * self.batch_ms


class RecorderTally:
    """Follows one channel, chunk by chunk."""

    def __init__(self) -> None:
        self._book = RecorderBook.empty()

    def add(self, chunk: Capture, rows: NDArray[np.int64]) -> None:
        """Take the channel's frames of a chunk, in file order."""
        _KERNELS.take_channel(chunk.columns, rows, self._book)

    def result(self) -> RecorderTraces:
        """The traces so far."""
        row = self._book.row.tolist()
        stalls, longest, sums = row[STALLS], row[LONGEST], row[STALL_SUMS : STALL_SUMS + 4]
        if row[OVER] >= TOGETHER:  # the last one is still open
            stalls += 1
            longest = max(longest, row[STALL_END] - row[STALL_BEGIN])
            sums = [one + more for one, more in zip(sums, row[OVER : OVER + 4], strict=True)]
        over, counting, skipped, late = sums
        batches = row[ALL_GAPS] - row[BATCHED]
        counters = [slot for slot in self._book.slots.tolist() if slot[KEY] >= 0 and _is_counter(slot)]
        found = sorted((_skipping(slot) for slot in counters if _is_skipping(slot)), key=_by_id)
        return RecorderTraces(
            batched=row[BATCHED] / row[ALL_GAPS] if row[ALL_GAPS] else 0.0,
            batch_ms=row[ALL_TIME] / batches / 1e6 if batches else 0.0,
            skipping=tuple(found),
            counting=len(counters),
            moments=row[MOMENTS],
            stalls=stalls,
            longest_stall_ms=longest / 1e6,
            stall_counters=-(-counting // stalls) if stalls else 0,
            stalls_late=bool(stalls) and 2 * late >= over,
            stalls_lost=bool(counting) and 2 * skipped >= counting,
        )


def _by_id(counter: SkippingCounter) -> FrameId:
    return counter.frame_id


def _skipping(slot: list[int]) -> SkippingCounter:
    frame_id = FrameId(slot[KEY] & 0x1FFFFFFF, bool(slot[KEY] >> 29))
    return SkippingCounter(frame_id, _steps(slot), _skips(slot)[1])


def _steps(slot: list[int]) -> int:
    return slot[GOOD] + slot[SKIPS] + slot[REPEATS] + slot[RESETS_14] + slot[RESETS_15]


def _skips(slot: list[int]) -> tuple[int, int, int]:
    """Skips, the frames they leave out, the time they took in ns.

    A counter that never is 15, or never 0, leaves none out where it begins again.
    """
    skips, missing, time = slot[SKIPS], slot[MISSING], slot[SKIP_TIME]
    for count, its_time, left_out in ((RESETS_14, TIME_14, 15), (RESETS_15, TIME_15, 0)):
        if slot[SEEN] >> left_out & 1:
            skips += slot[count]
            missing += slot[count]
            time += slot[its_time]
    return skips, missing, time


def _is_counter(slot: list[int]) -> bool:
    return bool(slot[NIBBLE]) and _steps(slot) >= _LEAST_STEPS and slot[REPEATS] * 10 <= _steps(slot)


def _is_skipping(slot: list[int]) -> bool:
    """Whether the time that skips took is that of the frames they leave out."""
    skips, missing, time = _skips(slot)
    if not skips or not slot[GOOD_TIME]:
        return False
    frames, expected = time * slot[GOOD] / slot[GOOD_TIME], missing + skips
    return abs(frames - expected) <= _AGREE * expected
