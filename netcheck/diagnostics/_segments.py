"""Frames of the transport protocol (ISO 15765-2, normal addressing) to messages.

What the first byte says: 0N single frame of N bytes, 1N NN first frame, 2N consecutive frame with sequence
number N (1 … F, then 0), 3S flow control (0 go on, 1 wait, 2 no room). CAN FD: 00 NN single frame; 10 00 and
four bytes of length. Extended and mixed addressing put an address before that byte: such frames are read with
``address_bytes=1``, each address apart.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from typing import Final, NamedTuple

import numpy as np

from netcheck.capture import EXTENDED, NON_DATA, Capture
from netcheck.diagnostics._ids import CLASSIC, NO_ROOM, Address, transport_ids
from netcheck.diagnostics._transfer import Lapse, Transfer

_SILENCE_NS: Final = 1_000_000_000  # the standard's timeouts N_Bs and N_Cr: 1000 ms (from memory)

_Key = tuple[str, Address, int | None]  # channel, id, address byte


class _Frame(NamedTuple):
    position: int
    time_ns: int
    data: bytes  # from the transport protocol's first byte on
    room: int  # of such bytes that a classic frame has


class _Open:
    """A message on its way; once it has a lapse, further frames are only counted in."""

    def __init__(self, frame: _Frame, announced: int, data: bytes) -> None:
        self.is_bounded = False
        self.frames = [frame.position]
        self.first_ns = self.last_ns = frame.time_ns
        self.announced = announced
        self.received = bytearray(data)
        self.size = len(frame.data)
        self.due = 1
        self.partner: int | None = None
        self.lapse: Lapse | None = None
        self.text = ""

    @property
    def missing(self) -> int:
        return self.announced - len(self.received)

    def fail(self, lapse: Lapse, text: str) -> None:
        """The first fault counts."""
        if self.lapse is None:
            self.lapse, self.text = lapse, text

    def take(self, frame: _Frame) -> None:
        """A consecutive frame."""
        if self.lapse is None or not self.is_bounded:
            self.frames.append(frame.position)
        self.last_ns = frame.time_ns
        if self.lapse is not None:
            return
        number = frame.data[0] & 15
        if number != self.due:
            self.fail(Lapse.WRONG_SEQUENCE, f"consecutive frame {number:X} came where {self.due:X} was due")
            return
        size = min(self.missing, self.size - 1)
        if len(frame.data) - 1 < size:
            self.fail(
                Lapse.SHORT_FRAME,
                f"consecutive frame {number:X} has {len(frame.data) - 1} bytes where {size} were due",
            )
            return
        self.received += frame.data[1 : 1 + size]
        self.due = (self.due + 1) % 16


class Reassembler:
    """Puts messages together from frames in the order of the capture, chunk by chunk.

    address_bytes: 0 normal addressing, 1 extended or mixed
    most:          bytes of a message that are kept; a longer one has a lapse, and of a message with a lapse
                   no frame after the fault is counted in. None keeps all
    answers_to:    id of flow control → the id whose messages it is for, where that is known; flow control
                   of other ids is for the message that moved last
    """

    def __init__(
        self,
        *,
        address_bytes: int = 0,
        most: int | None = None,
        answers_to: Mapping[Address, Address] | None = None,
    ) -> None:
        self._address_bytes = address_bytes
        self._most = most
        self._answers_to = answers_to or {}
        self._open: dict[_Key, _Open] = {}
        self._moved: dict[str, dict[_Key, None]] = {}  # by channel: open and sound, the latest one last

    def take(self, chunk: Capture, chosen: Iterable[int], before: int = 0) -> Iterator[Transfer]:
        """Messages that end with these frames of a chunk, as they end.

        chosen: positions in the chunk, ascending; before: frames of the capture before the chunk
        """
        skip = self._address_bytes
        for i in chosen:
            data = chunk.payload(i)
            if len(data) > skip and not chunk.flags[i] & NON_DATA:
                frame = _Frame(before + int(i), int(chunk.time_ns[i]), data[skip:], CLASSIC - skip)
                address = int(chunk.can_id[i]), bool(chunk.flags[i] & EXTENDED)
                target = data[0] if skip else None
                yield from self._frame((chunk.channels[chunk.channel[i]], address, target), frame)

    def finish(self) -> Iterator[Transfer]:
        """What is still open when the capture ends."""
        for key, message in list(self._open.items()):
            message.fail(Lapse.CUT_OFF, f"the capture ends with {message.missing} bytes missing")
            yield self._close(key, message)

    def _frame(self, key: _Key, frame: _Frame) -> Iterator[Transfer]:
        kind = frame.data[0] >> 4
        if kind == 3:
            yield from self._flow(key[0], key[1], frame)
            return
        if kind > 3:
            return
        message = self._open.get(key)
        if message is not None and frame.time_ns - message.last_ns > _SILENCE_NS:
            message.fail(
                Lapse.TIMED_OUT, f"no frame for more than a second with {message.missing} bytes missing"
            )
            yield self._close(key, message)
            message = None
        if kind == 2:
            yield from self._consecutive(key, message, frame)
            return
        if message is not None:
            message.fail(
                Lapse.OVERLAPPED, f"another message began on this id with {message.missing} bytes missing"
            )
            yield self._close(key, message)
        started = _single(frame) if kind == 0 else _first(frame)
        if kind == 1:
            self._begin(key, started)
        else:
            yield _transfer(key, started)

    def _consecutive(self, key: _Key, message: _Open | None, frame: _Frame) -> Iterator[Transfer]:
        if message is None:
            message = _Open(frame, 0, b"")
            message.fail(Lapse.NO_FIRST_FRAME, "consecutive frames without a first frame")
            self._begin(key, message)
            return
        message.take(frame)
        self._note(key, message)
        if message.lapse is None and not message.missing:
            yield self._close(key, message)

    def _flow(self, channel: str, address: Address, frame: _Frame) -> Iterator[Transfer]:
        """Flow control is for the message that waits on another id of the channel: the latest that moved."""
        wanted = self._answers_to.get(address)
        key = next(
            (
                key
                for key in reversed(self._moved.get(channel, {}))
                if key[1] != address and wanted in {None, key[1]}
            ),
            None,
        )
        if key is None:
            return
        message = self._open[key]
        if message.partner is None:
            message.partner = address[0]
        if message.partner == address[0]:
            message.last_ns = max(message.last_ns, frame.time_ns)
            self._note(key, message)
            if frame.data[0] & 15 == NO_ROOM:
                message.fail(Lapse.REFUSED, f"0x{address[0]:03X} had no room for {message.announced} bytes")
                yield self._close(key, message)

    def _begin(self, key: _Key, message: _Open) -> None:
        if self._most is not None:
            message.is_bounded = True
            if message.announced > self._most:
                what = f"it announces {message.announced} bytes, more than {self._most}"
                message.fail(Lapse.TOO_LONG, what)
        self._open[key] = message
        self._note(key, message)

    def _note(self, key: _Key, message: _Open) -> None:
        """It moved, or failed: flow control is for sound messages only."""
        moved = self._moved.setdefault(key[0], {})
        moved.pop(key, None)
        if message.lapse is None:
            moved[key] = None

    def _close(self, key: _Key, message: _Open) -> Transfer:
        del self._open[key]
        self._moved.get(key[0], {}).pop(key, None)
        return _transfer(key, message)


def _single(frame: _Frame) -> _Open:
    data = frame.data
    size, at = data[0] & 15, 1
    if size == 0 and len(data) > frame.room:
        size, at = data[1], 2
    message = _Open(frame, size, data[at : at + size])
    if not size or message.missing or (at == 1 and size > frame.room - 1):
        message.fail(Lapse.BAD_LENGTH, f"a single frame of {len(data)} bytes that announces {size}")
    return message


def _first(frame: _Frame) -> _Open:
    data = frame.data
    if len(data) < frame.room:
        message = _Open(frame, 0, b"")
        message.fail(Lapse.SHORT_FRAME, f"a first frame of {len(data)} bytes, which must have {frame.room}")
        return message
    size, at = (data[0] & 15) << 8 | data[1], 2
    if size == 0:
        size, at = int.from_bytes(data[2:6], "big"), 6
    message = _Open(frame, size, data[at:])
    if size <= frame.room - 1 or message.missing <= 0:
        message.fail(
            Lapse.BAD_LENGTH, f"a first frame that announces {size} bytes, which a single frame holds"
        )
    return message


def _transfer(key: _Key, message: _Open) -> Transfer:
    channel, (can_id, is_extended), target = key
    received = bytes(message.received)
    return Transfer(
        channel=channel,
        can_id=can_id,
        is_extended=is_extended,
        partner=message.partner,
        first_ns=message.first_ns,
        last_ns=message.last_ns,
        announced=message.announced,
        data=b"" if message.lapse else received,
        received=received,
        frames=tuple(message.frames),
        lapse=message.lapse,
        text=message.text,
        target=target,
    )


def reassemble(capture: Capture, ids: Collection[Address] | None = None) -> tuple[Transfer, ...]:
    """The messages of a capture, by their first frame.

    ids: (id, whether it has 29 bits) of senders and receivers; flow control counts from these only. None
         takes those that ``transport_ids`` finds
    """
    wanted = transport_ids(capture) if ids is None else frozenset(ids)
    chosen = np.zeros(len(capture), np.bool_)
    extended = (capture.flags & EXTENDED) != 0
    for can_id, is_extended in wanted:
        chosen |= (capture.can_id == can_id) & (extended == is_extended)
    reassembler = Reassembler()
    found = [*reassembler.take(capture, np.flatnonzero(chosen)), *reassembler.finish()]
    return tuple(sorted(found, key=lambda transfer: transfer.frames[0]))
