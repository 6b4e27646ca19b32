"""Long J1939 messages: the transport protocol of SAE J1939-21, to all (BAM) and to one (RTS and CTS).

Connection frames (PF 236): byte 0 is 0x10 for a request to send, 0x20 for an announcement to all; bytes 1 and
2 the size, byte 3 the number of packets, bytes 5 to 7 the parameter group, low byte first. Data frames (PF
235): a packet number from 1 on, and seven bytes. Layout and times from memory, checked against hand-made
transfers only.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck.capture import EXTENDED, NON_DATA, Capture
from netcheck.diagnostics._transfer import GroupTransfer, Lapse

_CONNECTION, _DATA = 0xEC, 0xEB
_OPENS: Final = frozenset((0x10, 0x20))
_SILENCE_NS: Final = 1_250_000_000  # the longest of the protocol's times between frames
_PACKET: Final = 7  # bytes of the message in a data frame
_LEAST, _MOST = 9, 1785  # bytes of a message

_Pair = tuple[str, int, int]  # channel, source, destination


def group_frames(chunk: Capture) -> NDArray[np.bool_]:
    """Which frames are of this protocol, by their id."""
    format_ = (chunk.can_id >> 16) & 0x3FF
    named = (format_ == _CONNECTION) | (format_ == _DATA)
    found: NDArray[np.bool_] = named & ((chunk.flags & EXTENDED) != 0) & ((chunk.flags & NON_DATA) == 0)
    return found


class _Session:
    def __init__(self, can_id: int, time_ns: int, group: int | None, announced: int) -> None:
        self.can_id = can_id
        self.last_ns = time_ns
        self.group = group
        self.announced = announced
        self.received = bytearray()
        self.frames: list[int] = []
        self.lapse: Lapse | None = None

    def fail(self, lapse: Lapse) -> None:
        self.lapse = self.lapse or lapse

    def take(self, position: int, can_id: int, time_ns: int, data: bytes) -> None:
        if not self.frames:
            self.can_id = can_id
        self.frames.append(position)
        self.last_ns = time_ns
        if self.lapse is not None:
            return
        size = min(_PACKET, self.announced - len(self.received))
        if data[:1] != bytes([len(self.frames) & 0xFF]):
            self.fail(Lapse.WRONG_SEQUENCE)
        elif len(data) - 1 < size:
            self.fail(Lapse.SHORT_FRAME)
        else:
            self.received += data[1 : 1 + size]


class GroupReassembler:
    """Puts messages together from frames in the order of the capture, chunk by chunk.

    A packet that was asked for again counts as out of turn.
    """

    def __init__(self) -> None:
        self._open: dict[_Pair, _Session] = {}

    def take(self, chunk: Capture, chosen: Iterable[int], before: int = 0) -> Iterator[GroupTransfer]:
        """Messages that end with these frames of a chunk, as they end; see ``Reassembler.take``."""
        for i in chosen:
            can_id, time_ns, data = int(chunk.can_id[i]), int(chunk.time_ns[i]), chunk.payload(i)
            pair = chunk.channels[chunk.channel[i]], can_id & 0xFF, (can_id >> 8) & 0xFF
            if (can_id >> 16) & 0xFF == _DATA:
                yield from self._data(pair, before + int(i), can_id, time_ns, data)
            elif data[:1] and data[0] in _OPENS:
                yield from self._opened(pair, can_id, time_ns, data)

    def finish(self) -> Iterator[GroupTransfer]:
        """What is still open when the capture ends."""
        for pair, session in list(self._open.items()):
            session.fail(Lapse.CUT_OFF)
            yield self._close(pair, session)

    def _opened(self, pair: _Pair, can_id: int, time_ns: int, data: bytes) -> Iterator[GroupTransfer]:
        session = self._open.get(pair)
        if session is not None:
            session.fail(Lapse.OVERLAPPED)
            yield self._close(pair, session)
        size = int.from_bytes(data[1:3], "little")
        session = _Session(can_id, time_ns, int.from_bytes(data[5:8], "little"), size)
        if len(data) < 8:
            session.fail(Lapse.SHORT_FRAME)
        elif not _LEAST <= size <= _MOST or data[3] != -(-size // _PACKET):
            session.fail(Lapse.BAD_LENGTH)
        self._open[pair] = session

    def _data(
        self, pair: _Pair, position: int, can_id: int, time_ns: int, data: bytes
    ) -> Iterator[GroupTransfer]:
        session = self._open.get(pair)
        if session is not None and time_ns - session.last_ns > _SILENCE_NS:
            session.fail(Lapse.TIMED_OUT)
            yield self._close(pair, session)
            session = None
        if session is None:
            session = self._open[pair] = _Session(can_id, time_ns, None, 0)
            session.fail(Lapse.NO_FIRST_FRAME)
        session.take(position, can_id, time_ns, data)
        if session.lapse is None and len(session.received) == session.announced:
            yield self._close(pair, session)

    def _close(self, pair: _Pair, session: _Session) -> GroupTransfer:
        del self._open[pair]
        channel, source, destination = pair
        return GroupTransfer(
            channel,
            session.can_id,
            source,
            destination,
            session.group,
            session.announced,
            bytes(session.received),
            tuple(session.frames),
            session.lapse,
        )
