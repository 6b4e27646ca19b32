"""A segmented message as it was seen: whole, or incomplete with the reason."""

from __future__ import annotations

from enum import StrEnum

from netcheck.records import dataclass


class Lapse(StrEnum):
    """Why a message is not whole; stable codes."""

    NO_FIRST_FRAME = "no-first-frame"  # consecutive frames whose beginning is not in the capture
    WRONG_SEQUENCE = "wrong-sequence"  # a consecutive frame was lost, doubled or out of turn
    SHORT_FRAME = "short-frame"  # a frame holds fewer bytes than it must
    BAD_LENGTH = "bad-length"  # the announced length cannot be
    OVERLAPPED = "overlapped"  # another message began on the same id
    REFUSED = "refused"  # the receiver's flow control said that it has no room
    TIMED_OUT = "timed-out"  # more than a second without a frame of it
    CUT_OFF = "cut-off"  # the capture ends first
    TOO_LONG = "too-long"  # it announces more bytes than the reader keeps


@dataclass(frozen=True)
class Transfer:
    """One message of the transport protocol (ISO 15765-2).

    can_id:    of the sender, ``partner`` of who answered with flow control; None if nobody was seen to
    first_ns:  time of its first frame, ``last_ns`` of its last
    announced: bytes that the first or single frame announces; 0 where that is not known
    data:      the whole message; b"" when it is not whole
    received:  the bytes before the fault, in order: all of ``data`` when it is whole
    frames:    positions of its frames in the capture, flow control left out
    lapse:     why it is not whole; None when it is
    text:      the same in words, one clause; "" when it is whole
    target:    the address byte of extended or mixed addressing; None with normal addressing
    """

    channel: str
    can_id: int
    is_extended: bool
    partner: int | None
    first_ns: int
    last_ns: int
    announced: int
    data: bytes
    received: bytes
    frames: tuple[int, ...]
    lapse: Lapse | None = None
    text: str = ""
    target: int | None = None

    @property
    def is_whole(self) -> bool:
        """Whether every byte came, in order."""
        return self.lapse is None


@dataclass(frozen=True)
class GroupTransfer:
    """One message of J1939's transport protocol (SAE J1939-21), announced to all or to one address.

    can_id:      of its first data frame; of the announcement where none came
    group:       parameter group (PGN) that the announcement tells; None where none was seen
    announced:   bytes that it tells; 0 where that is not known
    received:    the bytes before the fault, in order
    frames:      positions of its data frames in the capture
    lapse:       why it is not whole; None when it is
    """

    channel: str
    can_id: int
    source: int
    destination: int
    group: int | None
    announced: int
    received: bytes
    frames: tuple[int, ...]
    lapse: Lapse | None = None

    @property
    def is_whole(self) -> bool:
        """Whether every byte came, in order, with nothing between."""
        return self.lapse is None
