"""A capture in memory: columns, one row a frame."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

EXTENDED: Final = 1  # 29-bit id
FD: Final = 2  # CAN FD frame
REMOTE: Final = 4  # remote frame: a requested length, no payload
ERROR: Final = 8  # error frame: not a message of any id
BRS: Final = 16  # CAN FD: the data phase had the higher bit rate (where the log says so)
ESI: Final = 32  # CAN FD: the sender was error passive (where the log says so)
NON_DATA: Final = REMOTE | ERROR  # frames that carry no message

BoolArray = NDArray[np.bool_]


class Columns(NamedTuple):
    """The columns of ``Capture`` as kernels take them."""

    time_ns: NDArray[np.int64]
    can_id: NDArray[np.uint32]
    flags: NDArray[np.uint8]
    channel: NDArray[np.uint8]
    length: NDArray[np.uint8]
    start: NDArray[np.int64]
    data: NDArray[np.uint8]

    @classmethod
    def empty(cls, rows: int, payload: int) -> Columns:
        """Room for that many frames and payload bytes; memory is used only once it is written."""
        return cls(
            np.empty(rows, np.int64),
            np.empty(rows, np.uint32),
            np.empty(rows, np.uint8),
            np.empty(rows, np.uint8),
            np.empty(rows, np.uint8),
            np.empty(rows, np.int64),
            np.empty(payload, np.uint8),
        )


@dataclass(frozen=True, eq=False)
class Capture:
    """Recorded frames as columns of equal length, in file order.

    time_ns:  int64, nanoseconds since the epoch (or since the start of the recording, as the log has it)
    can_id:   uint32, without flag bits
    flags:    uint8, sum of EXTENDED, FD, REMOTE, ERROR, BRS, ESI
    channel:  uint8, index into ``channels``
    length:   uint8, payload bytes; of a remote frame the requested length
    start:    int64, where the frame's first payload byte is in ``data``
    data:     uint8, the payloads of all frames; a frame's payload is ``data[start : start + length]``
    skipped:  number of lines that were not frames (comments and blank lines are not counted)
    warnings: what a person should know, in the order it was found
    has_times: whether its frames have time stamps, all but one in a hundred at most. Without, ``time_ns`` is
              made up, 1 ms a frame: it shows what came and how it changed, but no gap, load or delay
    """

    file: str
    channels: tuple[str, ...]
    time_ns: NDArray[np.int64]
    can_id: NDArray[np.uint32]
    flags: NDArray[np.uint8]
    channel: NDArray[np.uint8]
    length: NDArray[np.uint8]
    start: NDArray[np.int64]
    data: NDArray[np.uint8]
    skipped: int = 0
    warnings: tuple[str, ...] = ()
    has_times: bool = True

    def __len__(self) -> int:
        return len(self.time_ns)

    @property
    def columns(self) -> Columns:
        """All columns, each in one piece of memory; copied only where it is not."""
        return Columns(*(np.ascontiguousarray(getattr(self, name)) for name in Columns._fields))

    @cached_property
    def is_extended(self) -> BoolArray:
        """bool: the id has 29 bits."""
        found: BoolArray = (self.flags & EXTENDED) != 0
        return found

    @cached_property
    def is_fd(self) -> BoolArray:
        """bool: a CAN FD frame."""
        found: BoolArray = (self.flags & FD) != 0
        return found

    @cached_property
    def is_remote(self) -> BoolArray:
        """bool: a remote frame."""
        found: BoolArray = (self.flags & REMOTE) != 0
        return found

    @cached_property
    def is_error(self) -> BoolArray:
        """bool: an error frame."""
        found: BoolArray = (self.flags & ERROR) != 0
        return found

    def payload(self, index: int) -> bytes:
        """Payload bytes of frame ``index``; empty for a remote frame."""
        if self.flags[index] & REMOTE:
            return b""
        begin = int(self.start[index])
        return self.data[begin : begin + int(self.length[index])].tobytes()
