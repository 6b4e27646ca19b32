"""Pieces of known vehicle identification numbers (VINs) in any frame, as some vehicles send them."""

from __future__ import annotations

from collections.abc import Collection
from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck.capture import EXTENDED, NON_DATA, Capture
from netcheck.diagnostics import Address
from netcheck.edit._vin_finds import bits

LEAST: Final = 4  # characters in a row that are no chance: one frame in sixty million by mere chance
_LEAST_END: Final = 2  # characters of a number's end, where its id carries longer pieces at the same byte


class Pieces:
    """Numbers to look for, and the ids that carry them.

    places: id → bytes at which pieces begin, as found by ``learn``
    seen:   the numbers of which a piece was found by ``spots`` or ``runs``
    """

    def __init__(self, vins: Collection[bytes]) -> None:
        self._vins = sorted(vins)
        windows = {vin[i : i + LEAST] for vin in vins for i in range(len(vin) - LEAST + 1)}
        self._windows = np.array(sorted(int.from_bytes(window, "little") for window in windows), np.uint32)
        self.places: dict[Address, set[int]] = {}
        self.seen: set[bytes] = set()

    def learn(self, chunk: Capture, transport: Collection[Address]) -> None:
        """Takes note of the ids that carry pieces; ``transport`` are ids of diagnostics, known otherwise."""
        for i in self._holding(chunk).tolist():
            address = _address(chunk, i)
            if address not in transport:
                begins = {begin for begin, _ in self.runs(chunk.payload(i))}
                self.places.setdefault(address, set()).update(begins)

    def spots(self, chunk: Capture) -> dict[int, int]:
        """Position in the chunk → bytes that belong to a number, as bits."""
        chosen = np.zeros(len(chunk), np.bool_)
        chosen[self._holding(chunk)] = True
        extended = (chunk.flags & EXTENDED) != 0
        for can_id, is_extended in self.places:
            chosen |= (chunk.can_id == can_id) & (extended == is_extended)
        chosen &= (chunk.flags & NON_DATA) == 0
        found: dict[int, int] = {}
        for i in np.flatnonzero(chosen).tolist():
            payload = chunk.payload(i)
            marked = 0
            for begin, end in self.runs(payload):
                marked |= bits(begin, end)
            for begin in self.places.get(_address(chunk, i), ()):
                marked |= bits(begin, begin + self._end_piece(payload[begin:]))
            if marked:
                found[i] = marked
        return found

    def _holding(self, chunk: Capture) -> NDArray[np.int64]:
        """Frames with four characters in a row of a number."""
        data = chunk.data
        none = np.empty(0, np.int64)
        if len(data) < LEAST or not len(self._windows):
            return none
        words = data[:-3].astype(np.uint32)
        for k in range(1, LEAST):
            words |= data[k : len(data) - 3 + k].astype(np.uint32) << np.uint32(8 * k)
        places = np.flatnonzero(np.isin(words, self._windows))
        frames = np.flatnonzero(((chunk.flags & NON_DATA) == 0) & (chunk.length >= LEAST))
        if not len(places) or not len(frames):
            return none
        starts = chunk.start[frames]
        index = np.searchsorted(starts, places, side="right") - 1
        frame = frames[np.maximum(index, 0)]
        inside = (index >= 0) & (places + LEAST <= chunk.start[frame] + chunk.length[frame])
        return np.unique(frame[inside])

    def runs(self, payload: bytes) -> list[tuple[int, int]]:
        """(begin, end) of the longest pieces of at least four characters."""
        found = []
        at = 0
        while at + LEAST <= len(payload):
            size = 0
            while at + size < len(payload) and self._is_piece(payload[at : at + size + 1]):
                size += 1
            if size >= LEAST:
                found.append((at, at + size))
                self.seen |= {vin for vin in self._vins if payload[at : at + size] in vin}
            at += max(size, 1) if size >= LEAST else 1
        return found

    def _is_piece(self, text: bytes) -> bool:
        return any(text in vin for vin in self._vins)

    def _end_piece(self, payload: bytes) -> int:
        """How many of these first bytes are the last characters of a number; 0 below two."""
        sizes = range(min(LEAST, len(payload)), _LEAST_END - 1, -1)
        return next((n for n in sizes if any(vin.endswith(payload[:n]) for vin in self._vins)), 0)


def _address(chunk: Capture, index: int) -> Address:
    return int(chunk.can_id[index]), bool(chunk.flags[index] & EXTENDED)
