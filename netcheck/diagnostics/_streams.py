"""Which ids of a capture carry diagnostic services, and in which addressing.

Ids of the vehicle file and customary ones are taken if at least half of their frames fit. Of others every
frame has to fit, and every message has to begin with a service that there is.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Final

import numpy as np

from netcheck.capture import EXTENDED, NON_DATA, Capture
from netcheck.diagnostics._ids import (
    ADDRESS_BYTES,
    CLASSIC,
    Address,
    TransportCounts,
    TransportTally,
    is_customary,
    is_group,
    may_be,
)
from netcheck.diagnostics._services import SERVICE_BYTES

_KNOWN: Final = np.isin(np.arange(256), sorted(SERVICE_BYTES))
_CONSECUTIVE: Final = 2


class ConversationSearch:
    """Goes through one capture, chunk by chunk. declared: ids that the vehicle file names"""

    def __init__(self, declared: Collection[Address] = ()) -> None:
        self._declared = frozenset(declared)
        self._tally = TransportTally()
        # (address bytes) → id → messages that begin with a service, that do not, consecutive frames
        self._seen: tuple[dict[Address, list[int]], ...] = ({}, {})

    def take(self, chunk: Capture) -> None:
        """The next chunk."""
        self._tally.add(chunk)
        frames = np.flatnonzero(((chunk.flags & NON_DATA) == 0) & (chunk.length > 1))
        for skip in ADDRESS_BYTES:
            chosen = frames[may_be(chunk, frames, skip)]
            if not len(chosen):
                continue
            begin, last = chunk.start[chosen] + skip, len(chunk.data) - 1
            lead = chunk.data[begin].astype(np.int64)
            second = chunk.data[np.minimum(begin + 1, last)]
            size = chunk.length[chosen].astype(np.int64) - skip
            long = (lead == 0) & (size > CLASSIC - skip)
            escaped = (lead == 0x10) & (second == 0)
            head = np.where(lead >> 4 == 0, np.where(long, 2, 1), np.where(escaped, 6, 2))
            known = _KNOWN[chunk.data[np.minimum(begin + head, last)]]
            opens = lead >> 4 <= 1
            names = chunk.can_id[chosen].astype(np.int64) * 2 + ((chunk.flags[chosen] & EXTENDED) != 0)
            ids, places = np.unique(names, return_inverse=True)
            looks = (opens & known, opens & ~known, lead >> 4 == _CONSECUTIVE)
            counts = [np.bincount(places, weights=look, minlength=len(ids)) for look in looks]
            for column, name in enumerate(ids.tolist()):
                row = self._seen[skip].setdefault((name >> 1, bool(name & 1)), [0, 0, 0])
                for kind, count in enumerate(counts):
                    row[kind] += int(count[column])

    def streams(self) -> Mapping[Address, int]:
        """Id → address bytes before the protocol's, of the ids that may carry services."""
        found = {}
        for address, seen in self._tally.counts().items():
            if is_group(address):
                continue
            trusted = address in self._declared or is_customary(address)
            fitting = [skip for skip in ADDRESS_BYTES if self._fits(address, seen, skip, trusted=trusted)]
            if fitting:
                found[address] = max(fitting, key=lambda skip: self._weight(address, seen, skip))
        return found

    def _fits(self, address: Address, seen: TransportCounts, skip: int, *, trusted: bool) -> bool:
        known, strange, _ = self._seen[skip].get(address, (0, 0, 0))
        if trusted:
            return seen.fits[skip] * 2 >= seen.frames and known > 0
        return seen.fits[skip] == seen.frames and known > 0 and not strange

    def _weight(self, address: Address, seen: TransportCounts, skip: int) -> tuple[int, int, int]:
        """Frames that fit, then consecutive ones: a first frame without one is none; then no address byte."""
        known, _, consecutive = self._seen[skip].get(address, (0, 0, 0))
        return seen.fits[skip] + known, consecutive, -skip
