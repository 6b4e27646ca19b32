"""Which ids may carry segmented messages, told by what their frames look like.

Normal addressing: the transport protocol's first byte leads. Extended and mixed addressing: an address byte
stands before it.
"""

from __future__ import annotations

from collections.abc import Collection
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from netcheck.capture import EXTENDED, NON_DATA, Capture

CLASSIC: Final = 8  # bytes of the longest classic frame
NO_ROOM: Final = 2  # flow control: the receiver has no room
_SHORT_IDS: Final = 4096  # three hexadecimal digits
_COUNTS: Final = 5

Address = tuple[int, bool]  # id, whether it has 29 bits
ADDRESS_BYTES: Final = (0, 1)  # before the protocol's: normal addressing; extended and mixed
_FORMATS: Final = frozenset(
    (0xCD, 0xCE, 0xDA, 0xDB)
)  # of 29-bit ids for diagnostics (ISO 15765-3), from memory
_GROUP_FORMATS: Final = frozenset((0xEB, 0xEC))  # J1939's own transport protocol


class TransportCounts(NamedTuple):
    """What the frames of an id look like; pairs are for 0 and 1 address bytes.

    frames: with a payload
    fits:   those that may be of the transport protocol
    parts:  those of them that carry, or belong to, messages too long for a classic frame
    """

    frames: int
    fits: tuple[int, int]
    parts: tuple[int, int]


class TransportTally:
    """Counts the frames of every id of a capture, on all its channels together, chunk by chunk."""

    def __init__(self) -> None:
        self._short = np.zeros((_COUNTS, _SHORT_IDS), np.int64)
        self._long: dict[int, NDArray[np.int64]] = {}

    def add(self, chunk: Capture) -> None:
        """The next chunk."""
        frames = np.flatnonzero(((chunk.flags & NON_DATA) == 0) & (chunk.length > 0))
        ids, wide = chunk.can_id[frames], (chunk.flags[frames] & EXTENDED) != 0
        looks = [np.ones(len(frames), np.bool_)]
        for address_bytes in (0, 1):
            fits = may_be(chunk, frames, address_bytes)
            first = chunk.data[np.minimum(chunk.start[frames] + address_bytes, len(chunk.data) - 1)]
            looks += [fits, fits & ((first == 0) | (first >> 4 == 1) | (first >> 4 == 2))]
        for row, look in enumerate(looks):
            self._short[row] += np.bincount(ids[look & ~wide], minlength=_SHORT_IDS)
        names, places = np.unique(ids[wide], return_inverse=True)
        counts = np.array([np.bincount(places[look[wide]], minlength=len(names)) for look in looks])
        for column, name in enumerate(names.tolist()):
            self._long[name] = self._long.get(name, 0) + counts[:, column]

    def counts(self) -> dict[Address, TransportCounts]:
        """What was counted, by id."""
        short = np.flatnonzero(self._short[0]).tolist()
        found = {(can_id, False): _counts(self._short[:, can_id]) for can_id in short}
        return found | {(can_id, True): _counts(self._long[can_id]) for can_id in sorted(self._long)}


def _counts(row: NDArray[np.int64]) -> TransportCounts:
    frames, fits, parts, other_fits, other_parts = map(int, row)
    return TransportCounts(frames, (fits, other_fits), (parts, other_parts))


def transport_ids(capture: Capture) -> frozenset[Address]:
    """Ids whose every frame, on every channel, may be one of the transport protocol with normal addressing.

    Content alone cannot tell for sure: a message whose first byte happens to fit is among them, too.
    """
    tally = TransportTally()
    tally.add(capture)
    return frozenset(address for address, seen in tally.counts().items() if seen.fits[0] == seen.frames)


def may_be(capture: Capture, frames: NDArray[np.int64], address_bytes: int = 0) -> NDArray[np.bool_]:
    """Which of these frames may be of the transport protocol behind so many address bytes.

    A single frame of CAN FD that is one without an address byte is none with it.
    """
    begin = capture.start[frames] + address_bytes
    length = capture.length[frames].astype(np.int64) - address_bytes
    room, last = CLASSIC - address_bytes, len(capture.data) - 1
    first = capture.data[np.minimum(begin, last)].astype(np.int64)
    second = np.where(length > 1, capture.data[np.minimum(begin + 1, last)], 0)
    kind, low = first >> 4, first & 15
    single = (low >= 1) & (low < room) & (low < length)
    single |= (low == 0) & (length > room) & (second >= 1) & (second <= length - 2)
    whole = low << 8 | second
    begins = (length >= room) & ((whole == 0) | (whole >= room))
    flows = (low <= NO_ROOM) & (length >= 3)
    found: NDArray[np.bool_] = np.choose(np.minimum(kind, 4), [single, begins, length >= 2, flows, False])
    if address_bytes:
        size = capture.length[frames].astype(np.int64)
        long = (size > CLASSIC) & (capture.data[capture.start[frames]] == 0)
        found &= ~(long & (first >= 1) & (first <= size - 2))
    return found & (length > 0)


def is_customary(address: Address) -> bool:
    """Whether the id is customary for diagnostics: 0x700 to 0x7FF, 29 bits by their format."""
    can_id, is_extended = address
    return (can_id >> 16) & 0xFF in _FORMATS if is_extended else 0x700 <= can_id <= 0x7FF


def is_group(address: Address) -> bool:
    """Whether the id is of J1939's own transport protocol."""
    can_id, is_extended = address
    return is_extended and (can_id >> 16) & 0x3FF in _GROUP_FORMATS


def of_addresses(chunk: Capture, addresses: Collection[Address]) -> NDArray[np.bool_]:
    """Frames of these ids."""
    table = np.zeros(_SHORT_IDS, np.bool_)
    table[[can_id for can_id, is_extended in addresses if not is_extended]] = True
    extended = (chunk.flags & EXTENDED) != 0
    chosen: NDArray[np.bool_] = table[np.minimum(chunk.can_id, _SHORT_IDS - 1)] & ~extended
    wide = np.array([can_id for can_id, is_extended in addresses if is_extended], np.uint32)
    if len(wide):
        places = np.flatnonzero(extended)
        chosen[places] = np.isin(chunk.can_id[places], wide)
    chosen &= (chunk.flags & NON_DATA) == 0
    return chosen
