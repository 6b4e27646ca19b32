"""The watched messages' frames of several chunks, put together so that they are looked at all at once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final, Self

import numpy as np
from numpy.typing import NDArray

from netcheck._compile import kernels
from netcheck.capture import Capture
from netcheck.database import Message, PayloadBytes, is_message
from netcheck.evidence._bundle_columns import BundleColumns
from netcheck.network import Entries, Placed
from netcheck.records import dataclass

_KERNELS: Final = kernels("netcheck.evidence._kernels")
LEAST_ROWS: Final = 1 << 19  # frames of a bundle: enough to make little of the work around them


class Bundle(BundleColumns):
    """Frames put together, with what is done with them."""

    @classmethod
    def empty(cls, rows: int, payload: int) -> Self:
        """Room for that many frames and payload bytes, and 8 bytes that the kernel may write beyond."""
        return cls(
            np.empty(rows, np.int64),
            np.empty(rows, np.int32),
            np.empty(rows, np.int32),
            np.empty(rows, np.uint8),
            np.empty(rows, np.int64),
            np.empty(payload + 8, np.uint8),
            np.zeros(2, np.int64),
        )

    @classmethod
    def fit(cls, chunk: Capture) -> Self:
        """Room for a chunk, and for more where it is a small one."""
        rows = max(LEAST_ROWS, len(chunk))
        return cls.empty(rows, max(8 * rows, len(chunk.data)))

    def has_room(self, chunk: Capture) -> bool:
        """Whether a whole chunk fits in."""
        rows, payload = self.state.tolist()
        fits: bool = rows + len(chunk) <= len(self.time_ns) and payload + len(chunk.data) + 8 <= len(
            self.data
        )
        return fits

    def take(self, chunk: Capture, placed: Placed, groups: NDArray[np.int32]) -> None:
        """Append a chunk's watched frames. groups: of each entry, -1 if it is not watched."""
        _KERNELS.keep_watched(placed.entry, placed.awake, groups, chunk.columns, self)

    def filled(self) -> Bundle:
        """The part in use."""
        rows, payload = self.state
        return Bundle(
            self.time_ns[:rows],
            self.group[:rows],
            self.awake[:rows],
            self.length[:rows],
            self.start[:rows],
            self.data[:payload],
            self.state,
        )

    def rows(self, groups: Sequence[int], by_group: Sequence[NDArray[np.int64]]) -> Rows:
        """The frames of some groups together. by_group: numbers of the frames of each group."""
        own = [by_group[group] for group in groups if len(by_group[group])]
        indices = own[0] if len(own) == 1 else np.sort(np.concatenate([*own, np.empty(0, np.int64)]))
        return Rows(self, indices, self.time_ns[indices], self.awake[indices])


@dataclass(frozen=True)
class Rows:
    """A message's frames in a bundle, on one channel, in file order.

    indices: their numbers among the payloads
    time_ns, awake: their time stamps, and the awake periods they are in
    """

    payloads: PayloadBytes
    indices: NDArray[np.int64]
    time_ns: NDArray[np.int64]
    awake: NDArray[np.int32]


class Groups:
    """Entries that are a watched message's, numbered.

    of_entry:   int32, the number of each entry; -1 if it is not watched
    of_message: numbers by channel and message key
    """

    def __init__(self) -> None:
        self.of_entry = np.empty(0, np.int32)
        self.of_message: dict[tuple[int, str], list[int]] = {}
        self.count = 0

    def add(self, entries: Entries, messages: Mapping[str, Message]) -> None:
        """Take further entries. messages: the watched ones by key."""
        if not len(entries.can_id):
            return
        ours = {
            key: is_message(message, entries.can_id, entries.is_extended) for key, message in messages.items()
        }
        watched = np.zeros(len(entries.can_id), np.bool_)
        for own in ours.values():
            watched |= own
        numbers = np.where(watched, self.count + np.cumsum(watched) - 1, -1).astype(np.int32)
        self.count += int(np.count_nonzero(watched))
        self.of_entry = np.concatenate((self.of_entry, numbers))
        for key, own in ours.items():
            for entry in np.flatnonzero(own):
                place = int(entries.channel[entry]), key
                self.of_message.setdefault(place, []).append(int(numbers[entry]))
