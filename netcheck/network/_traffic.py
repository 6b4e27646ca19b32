"""What a channel carries: ids, lengths and times, counted chunk by chunk."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck.words import id_text

SILENCE_NS: Final = 1_000_000_000  # a network is awake while frames follow each other within this time …
SILENCE_SHARE: Final = 2.5  # … or this times its shortest median gap of a message
SLOW_NS: Final = 400_000_000  # a median gap beyond which that is longer


@dataclass(frozen=True, order=True)
class FrameId:
    """An id with its width: 0x123 with 11 bits is not 0x123 with 29."""

    can_id: int
    is_extended: bool

    def __str__(self) -> str:
        return id_text(self.can_id, self.is_extended)


@dataclass(frozen=True)
class Traffic:
    """One channel of one capture.

    frames:  all frames, remote and error frames too
    first_ns, last_ns: earliest and latest time stamp of any frame
    lengths: per id, payload length -> number of frames; remote and error frames are nobody's
    """

    frames: int
    first_ns: int
    last_ns: int
    lengths: Mapping[FrameId, Mapping[int, int]]

    @property
    def seconds(self) -> float:
        """Time from the earliest to the latest frame."""
        return (self.last_ns - self.first_ns) / 1e9

    def mostly_at_least(self, frame_id: FrameId, length: int) -> bool:
        """Whether more than half of the id's frames have ``length`` bytes or more."""
        counts = self.lengths[frame_id]
        enough = sum(count for seen, count in counts.items() if seen >= length)
        return 2 * enough > sum(counts.values())


class TrafficTally:
    """Counts a channel's frames, one chunk after another; ``result`` gives the sum."""

    def __init__(self) -> None:
        self._frames = 0
        self._first_ns: int | None = None
        self._last_ns: int | None = None
        self._counts: dict[int, int] = {}

    def add_times(self, time_ns: NDArray[np.int64]) -> None:
        """Take the time stamps of all frames of a chunk, whatever their kind."""
        if len(time_ns):
            self.add_span(len(time_ns), int(time_ns.min()), int(time_ns.max()))

    def add_span(self, frames: int, first: int, last: int) -> None:
        """Take a number of frames, one at least, with the earliest and the latest time stamp among them."""
        self._frames += frames
        self._first_ns = first if self._first_ns is None else min(first, self._first_ns)
        self._last_ns = last if self._last_ns is None else max(last, self._last_ns)

    def add_frames(
        self,
        can_id: NDArray[np.uint32],
        is_extended: NDArray[np.bool_],
        length: NDArray[np.uint8],
        count: NDArray[np.int64] | None = None,
    ) -> None:
        """Take ids, id widths and payload lengths of data frames; with ``count``, each that many times."""
        key = (can_id.astype(np.int64) << 8) | (is_extended.astype(np.int64) << 40) | length
        values, where = np.unique(key, return_inverse=True)
        sums = np.zeros(len(values), np.int64)
        np.add.at(sums, where, 1 if count is None else count)
        for value, number in zip(values.tolist(), sums.tolist(), strict=True):
            self._counts[value] = self._counts.get(value, 0) + number

    def result(self) -> Traffic:
        """The traffic seen so far."""
        lengths: dict[FrameId, dict[int, int]] = {}
        for key in sorted(self._counts):
            frame_id = FrameId((key >> 8) & 0x1FFFFFFF, bool(key >> 40))
            lengths.setdefault(frame_id, {})[key & 0xFF] = self._counts[key]
        return Traffic(self._frames, self._first_ns or 0, self._last_ns or 0, lengths)
