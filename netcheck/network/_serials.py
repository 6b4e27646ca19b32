"""What messages tell of the very vehicle: its number in numbered parts, and J1939 address claims.

A number in parts is found whatever its id: each frame begins with the number of its part, the parts follow
each other, each says the same every time, and together they are 17 letters and digits.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck.capture import EXTENDED, NON_DATA, Capture
from netcheck.network._claims import J1939Name, names_in
from netcheck.network._identity import is_diagnostic
from netcheck.network._traffic import FrameId
from netcheck.records import dataclass

_VIN: Final = re.compile(rb"[0-9A-Z]{17}")  # ISO 3779 has no I, O and Q; invented numbers may
_PARTS: Final = 4  # of a vehicle number that a message sends in parts
_LEAST_PARTS: Final = 3
_LOOKS: Final = 64  # frames of an id in a chunk that are looked at for one
_FRAMES: Final = 100_000  # of a capture, from its start: half a minute of the busiest network
_CLAIM: Final = 0x0EE  # data page and parameter group of an address claim, without the address it goes to
_CLAIMS: Final = 8  # of one address, that are kept


@dataclass
class NumberedParts:
    """What frames of one id bring in parts that their first byte numbers.

    texts: per part, what it said; may_be: nothing spoke against such parts
    """

    texts: dict[int, set[bytes]] = field(default_factory=dict)
    may_be: bool = True

    def take(self, chunk: Capture, rows: NDArray[np.int64]) -> None:
        """Remember what stands in the first frames of the chunk, unless these cannot be such parts."""
        for row in rows[:_LOOKS].tolist() if self.may_be else ():
            payload = chunk.payload(row)
            if not payload or payload[0] >= _PARTS:
                self.may_be = False
                return
            texts = self.texts.setdefault(payload[0], set())
            if len(texts) < 2:
                texts.add(payload[1:8])

    def join(self, other: NumberedParts) -> None:
        """Add what was seen on another channel or in another capture."""
        self.may_be &= other.may_be
        for part, texts in other.texts.items():
            self.texts.setdefault(part, set()).update(texts)

    def vin(self) -> str | None:
        """The vehicle number that they make, if they do."""
        parts = sorted(self.texts)
        if not self.may_be or len(parts) < _LEAST_PARTS or parts != list(range(parts[0], parts[-1] + 1)):
            return None
        if any(len(texts) != 1 for texts in self.texts.values()):
            return None
        text = b"".join(next(iter(self.texts[part])) for part in parts)[:17]
        return text.decode("ascii") if _VIN.fullmatch(text) else None


class SerialWatch:
    """Goes through one capture, chunk by chunk."""

    def __init__(self) -> None:
        self._left = _FRAMES
        self._parts: dict[str, dict[FrameId, NumberedParts]] = {}
        self._claims: dict[str, dict[int, set[bytes]]] = {}

    def take(self, chunk: Capture) -> None:
        """The next chunk. Parts are looked for in the capture's beginning, claims in all of it."""
        is_long = (chunk.flags & EXTENDED) != 0
        has_long = bool(is_long.any())
        if not has_long and self._left <= 0:
            return
        is_data = (chunk.flags & NON_DATA) == 0
        if has_long:
            is_claim = is_long & is_data & (chunk.can_id >> 16 & 0x3FF == _CLAIM)
            self._take_claims(chunk, np.flatnonzero(is_claim))
        if self._left > 0:
            head = slice(0, self._left)
            self._left -= len(chunk)
            rows = np.flatnonzero(is_data[head])
            for number, channel in enumerate(chunk.channels):
                own = rows[chunk.channel[rows] == number]
                for is_extended in (False, True):
                    self._take_parts(channel, chunk, own[is_long[own] == is_extended], is_extended)

    def _take_parts(self, channel: str, chunk: Capture, rows: NDArray[np.int64], is_extended: bool) -> None:
        known = self._parts.setdefault(channel, {})
        for can_id, own in _by_id(chunk, rows):
            frame_id = FrameId(can_id, is_extended)
            parts = known.setdefault(frame_id, NumberedParts())
            first = _first_bytes(chunk, own)
            if parts.may_be and (len(first) < len(own) or int(first.max()) >= _PARTS):
                parts.may_be = False
            # A byte that never changes numbers nothing: only ids that brought two parts are read further.
            elif parts.may_be and (parts.texts or int(first.max()) > int(first.min())):
                parts.take(chunk, own)

    def _take_claims(self, chunk: Capture, rows: NDArray[np.int64]) -> None:
        for row in rows.tolist():
            channel = self._claims.setdefault(chunk.channels[int(chunk.channel[row])], {})
            names = channel.setdefault(int(chunk.can_id[row]) & 0xFF, set())
            if len(names) < _CLAIMS:
                names.add(chunk.payload(row))

    def numbers(self, channel: str) -> tuple[str, ...]:
        """The vehicle numbers that messages of a channel send in parts, by id."""
        found = (
            parts.vin()
            for frame_id, parts in sorted(self._parts.get(channel, {}).items(), key=_by_frame_id)
            if not is_diagnostic(frame_id)
        )
        return tuple(dict.fromkeys(vin for vin in found if vin is not None))

    def names(self, channel: str) -> tuple[J1939Name, ...]:
        """The numbers by which devices of a channel claim their addresses, the smallest first."""
        return names_in(payload for names in self._claims.get(channel, {}).values() for payload in names)


def _by_frame_id(entry: tuple[FrameId, NumberedParts]) -> FrameId:
    return entry[0]


def _by_id(chunk: Capture, rows: NDArray[np.int64]) -> Iterator[tuple[int, NDArray[np.int64]]]:
    """Rows of each id, in the chunk's order."""
    ids = chunk.can_id[rows]
    if len(ids) and int(ids.max()) < 1 << 16:
        ids = ids.astype(np.uint16)  # sorts in no time
    order = np.argsort(ids, kind="stable")
    borders = np.flatnonzero(np.diff(ids[order])) + 1
    for part in np.split(rows[order], borders) if len(rows) else ():
        yield int(chunk.can_id[part[0]]), part


def _first_bytes(chunk: Capture, rows: NDArray[np.int64]) -> NDArray[np.uint8]:
    """Of the frames that have one."""
    own = rows[chunk.length[rows] > 0]
    found: NDArray[np.uint8] = chunk.data[chunk.start[own].astype(np.int64)]
    return found
