"""Which ids of a capture carry segmented messages that may tell a vehicle number, and in which addressing."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck.capture import EXTENDED, NON_DATA, Capture
from netcheck.diagnostics import ADDRESS_BYTES, Address, TransportTally, is_customary, is_group

VEHICLE_ID: Final = 0xFEEC  # J1939 parameter group 65260


class StreamSearch:
    """Goes through one capture, chunk by chunk.

    signed: (id, address bytes) of which a first frame tells that a vehicle number follows
    """

    def __init__(self) -> None:
        self._tally = TransportTally()
        self.signed: set[tuple[Address, int]] = set()

    def take(self, chunk: Capture) -> None:
        """The next chunk."""
        self._tally.add(chunk)
        for address_bytes in ADDRESS_BYTES:
            for i in _signed(chunk, address_bytes).tolist():
                address = int(chunk.can_id[i]), bool(chunk.flags[i] & EXTENDED)
                self.signed.add((address, address_bytes))

    def streams(self) -> dict[tuple[Address, int], bool]:
        """(id, address bytes) of segmented messages → whether that is sure.

        Sure are ids that are customary for diagnostics (0x700 to 0x7FF, 29 bits by their format) or begin a
        message about a number. Of others every frame has to fit; they may be ordinary messages all the same.
        Nor is it sure where the other addressing takes all frames for single ones.
        """
        found = {}
        for address, seen in self._tally.counts().items():
            customary = is_customary(address)
            for address_bytes in ADDRESS_BYTES:
                fits, other = seen.fits[address_bytes], seen.fits[1 - address_bytes]
                fit = fits * 2 >= seen.frames if customary else fits == seen.frames
                if fit and fits >= other and seen.parts[address_bytes] and not is_group(address):
                    single = fits == other and not seen.parts[1 - address_bytes]
                    found[address, address_bytes] = customary and not single
        return found | dict.fromkeys(self.signed, True)


def _carrying(chunk: Capture, least: int) -> NDArray[np.int64]:
    return np.flatnonzero(((chunk.flags & NON_DATA) == 0) & (chunk.length >= least))


def _signed(chunk: Capture, address_bytes: int) -> NDArray[np.int64]:
    """First frames whose message is about a number: three bytes of its head have to be there."""
    frames = _carrying(chunk, address_bytes + 5)
    begin = chunk.start[frames] + address_bytes
    first = (chunk.data[begin] >> 4) == 1
    frames, begin = frames[first], begin[first]
    length = chunk.length[frames].astype(np.int64) - address_bytes
    long = (chunk.data[begin] == 0x10) & (chunk.data[begin + 1] == 0) & (length >= 9)
    at = begin + np.where(long, 6, 2)
    one, two, three = (chunk.data[at + k] for k in range(3))
    about = ((one == 0x62) | (one == 0x2E)) & (two == 0xF1) & (three == 0x90)
    about |= (one == 0x49) & (two == 0x02) & (three == 0x01)
    sign = (three == 0) | ((three >= 0x30) & (three <= 0x39)) | ((three >= 0x41) & (three <= 0x5A))
    about |= ((one == 0x5A) | (one == 0x3B)) & (two == 0x90) & sign
    found: NDArray[np.int64] = frames[about]
    return found


def short_answers(chunk: Capture, address_bytes: int) -> NDArray[np.int64]:
    """Single frames that begin as a message about a number does."""
    frames = _carrying(chunk, address_bytes + 5)
    begin = chunk.start[frames] + address_bytes
    lead = chunk.data[begin]
    single = lead >> 4 == 0
    frames, begin, lead = frames[single], begin[single], lead[single]
    at = begin + np.where((lead == 0) & (chunk.length[frames] > 8), 2, 1)
    one, two = chunk.data[at], chunk.data[at + 1]
    about = ((one == 0x62) | (one == 0x2E)) & (two == 0xF1)
    about |= ((one == 0x49) & (two == 0x02)) | (((one == 0x5A) | (one == 0x3B)) & (two == 0x90))
    found: NDArray[np.int64] = frames[about]
    return found


def group_answers(chunk: Capture) -> NDArray[np.int64]:
    """Frames of J1939's vehicle identification that were not sent in packets."""
    frames = _carrying(chunk, 4)
    group = ((chunk.can_id[frames] >> 8) & 0x3FFFF) == VEHICLE_ID
    found: NDArray[np.int64] = frames[group & ((chunk.flags[frames] & EXTENDED) != 0)]
    return found
