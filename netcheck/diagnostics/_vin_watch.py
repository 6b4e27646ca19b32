"""Which vehicle a capture is of: identification numbers that its diagnostic answers tell.

Only whole messages about the number count: answers to and writes of F190 (ISO 14229-1), mode 09 type 02 (ISO
15031-5), identification in KWP 2000. Normal addressing. ``edit`` hides numbers wherever they may stand; here
nothing is told that is not sure.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck.capture import EXTENDED, NON_DATA, Capture
from netcheck.diagnostics._ids import Address
from netcheck.diagnostics._segments import Reassembler
from netcheck.diagnostics._vin_services import VIN_LENGTH, number_begins, number_told

_FIRST_FRAME: Final = 1
_ABOUT: Final = ((0x62, 0xF1, 0x90), (0x2E, 0xF1, 0x90))
_ABOUT_SHORT: Final = ((0x49, 0x02), (0x5A, 0x90), (0x3B, 0x90))
_LEAST: Final = 8  # bytes of a first frame


class VinWatch:
    """Goes through one capture, chunk by chunk."""

    def __init__(self) -> None:
        self._ids: set[Address] = set()
        self._reader = Reassembler()
        self._found: dict[str, dict[str, None]] = {}

    def take(self, chunk: Capture) -> None:
        """The next chunk."""
        for i in _begins(chunk).tolist():
            self._ids.add((int(chunk.can_id[i]), bool(chunk.flags[i] & EXTENDED)))
        if not self._ids:
            return
        ids = np.array([can_id for can_id, _ in self._ids], chunk.can_id.dtype)
        chosen = [
            i
            for i in np.flatnonzero(np.isin(chunk.can_id, ids)).tolist()
            if (int(chunk.can_id[i]), bool(chunk.flags[i] & EXTENDED)) in self._ids
        ]
        for transfer in self._reader.take(chunk, chosen):
            if not transfer.is_whole or number_begins(transfer.data) is None:
                continue
            told = number_told(transfer.data)
            if told is not None and told.span[1] - told.span[0] == VIN_LENGTH:
                numbers = self._found.setdefault(transfer.channel, {})
                numbers.update(dict.fromkeys(number.decode("ascii") for number in told.numbers))

    def numbers(self, channel: str) -> tuple[str, ...]:
        """What a channel told, each number once, in the order of the capture."""
        return tuple(self._found.get(channel, ()))


def _begins(chunk: Capture) -> NDArray[np.int64]:
    """Numbers of frames that begin a message about the number, on ids customary for diagnostics."""
    at: NDArray[np.int64] = np.flatnonzero(chunk.can_id >= 0x600)  # most ids of 11 bits are below
    flags, high = chunk.flags[at], chunk.can_id[at] >> 16
    customary = ((flags & EXTENDED) == 0) | (high == 0x18DA) | (high == 0x18DB)
    at = at[customary & ((flags & NON_DATA) == 0) & (chunk.length[at] >= _LEAST)]
    if not len(at):
        return at
    start = chunk.start[at].astype(np.int64)
    kind, *head = (chunk.data[start + k] for k in (0, 2, 3, 4))
    about = np.zeros(len(at), np.bool_)
    for signs in (*_ABOUT, *_ABOUT_SHORT):
        about |= np.logical_and.reduce([byte == sign for byte, sign in zip(head, signs, strict=False)])
    found: NDArray[np.int64] = at[about & (kind >> 4 == _FIRST_FRAME)]
    return found
