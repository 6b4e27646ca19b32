"""Error frames by kind, laid out as Linux has it (``include/uapi/linux/can/error.h``).

The id is a set of classes, and data bytes say more about some of them.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np

from netcheck.capture import ERROR, Capture

_CLASSES: Final = {  # bits of the id
    0x001: "transmit-timeout",
    0x002: "arbitration-lost",
    0x010: "transceiver",
    0x020: "no-acknowledgement",
    0x040: "bus-off",
    0x100: "restarted",
}
_CONTROLLER: Final = {  # class 0x4: bits of data byte 1
    0x01: "frames-lost-receiving",
    0x02: "frames-lost-sending",
    0x04: "warning-level",
    0x08: "warning-level",
    0x10: "error-passive",
    0x20: "error-passive",
    0x40: "active-again",
}
_PROTOCOL: Final = {  # class 0x8: bits of data byte 2
    0x01: "single-bit",
    0x02: "format",
    0x04: "bit-stuffing",
    0x08: "no-dominant-bit",
    0x10: "no-recessive-bit",
    0x20: "overload",
}
_CRC_PLACES: Final = (0x08, 0x18)  # class 0x8: data byte 3, where in the frame: CRC sequence, CRC delimiter
_ACK_PLACES: Final = (0x19, 0x1B)  # acknowledge slot, acknowledge delimiter
OTHER: Final = "unspecified"
WRONG_RATE: Final = frozenset({"bit-stuffing", "format", "crc", "single-bit", OTHER, "protocol", "bus-error"})
LOST: Final = "frames-lost-receiving"


class ErrorTally:
    """Counts one channel's error frames, chunk by chunk; equal frames are looked at once."""

    def __init__(self) -> None:
        self._seen: dict[tuple[int, bytes], int] = {}

    def add(self, chunk: Capture, channel: int) -> None:
        """Take a chunk's error frames of a channel."""
        for row in np.flatnonzero(((chunk.flags & ERROR) != 0) & (chunk.channel == channel)).tolist():
            key = int(chunk.can_id[row]), chunk.payload(row)[1:4]
            self._seen[key] = self._seen.get(key, 0) + 1

    def result(self) -> Mapping[str, int]:
        """Kind -> error frames that report it, the most frequent first; a frame may report several."""
        counts: dict[str, int] = {}
        for (can_id, data), count in self._seen.items():
            for kind in error_kinds(can_id, data):
                counts[kind] = counts.get(kind, 0) + count
        return dict(sorted(counts.items(), key=lambda item: (-item[1], item[0])))


def error_kinds(can_id: int, data: bytes) -> frozenset[str]:
    """What an error frame reports: id without flag bits, and data bytes 1 to 3."""
    controller, protocol, place = data.ljust(3, b"\0")
    kinds = {name for bit, name in _CLASSES.items() if can_id & bit}
    if can_id & 0x004:
        kinds |= {name for bit, name in _CONTROLLER.items() if controller & bit} or {"controller"}
    if can_id & 0x008:
        found = {name for bit, name in _PROTOCOL.items() if protocol & bit}
        if place in _CRC_PLACES:
            found.add("crc")
        if place in _ACK_PLACES:
            found.add("no-acknowledgement")
        kinds |= found or {"protocol"}
    if can_id & 0x080 and not kinds:
        kinds.add("bus-error")
    return frozenset(kinds or {OTHER})
