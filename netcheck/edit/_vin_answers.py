"""Vehicle identification numbers (VINs) in diagnostic messages: where their characters stand in the frames.

Looked at are answers to and writes of data identifier F190 (ISO 14229-1: 62 F1 90 …, 2E F1 90 …, alone or
among others) and answers to mode 09, type 02 (SAE J1979: 49 02 01 …), each in one frame or segmented.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck.capture import EXTENDED, NON_DATA, Capture
from netcheck.diagnostics import Address, Reassembler, Transfer

VIN_LENGTH: Final = 17
_NUMBER: Final = re.compile(rb"[A-HJ-NPR-Z0-9]{17}")  # ISO 3779: no I, O, Q
_LETTERS: Final = frozenset(b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789")
_READ, _WRITE, _MODE_09 = 0x62, 0x2E, 0x49


@dataclass
class Answers:
    """What diagnostic messages tell of VINs.

    vins:      the numbers themselves
    spots:     frame position → bytes of it that belong to a VIN
    addresses: ids that carried such messages
    broken:    each message that is not whole: its id and the lapse
    """

    vins: set[bytes] = field(default_factory=set)
    spots: dict[int, set[int]] = field(default_factory=dict)
    addresses: set[Address] = field(default_factory=set)
    broken: list[tuple[str, str]] = field(default_factory=list)


class AnswerSearch:
    """Goes through one capture, chunk by chunk."""

    def __init__(self) -> None:
        self.answers = Answers()
        self._reassembler = Reassembler()
        self._tracked: set[Address] = set()
        self._payloads: dict[int, bytes] = {}
        self._before = 0

    def take(self, chunk: Capture) -> None:
        """The next chunk. An id is looked at from the first frame on that may begin such a message."""
        extended = (chunk.flags & EXTENDED) != 0
        for i in _beginnings(chunk):
            self._tracked.add((int(chunk.can_id[i]), bool(extended[i])))
        chosen = np.zeros(len(chunk), np.bool_)
        for can_id, is_extended in self._tracked:
            chosen |= (chunk.can_id == can_id) & (extended == is_extended)
        for i in np.flatnonzero(chosen).tolist():
            payload = chunk.payload(i)
            if payload and payload[0] >> 4 < 3:
                self._payloads[self._before + i] = payload
                for transfer in self._reassembler.take(chunk, [i], self._before):
                    self._note(transfer)
        self._before += len(chunk)

    def finish(self) -> Answers:
        """What was found."""
        for transfer in self._reassembler.finish():
            self._note(transfer)
        return self.answers

    def _note(self, transfer: Transfer) -> None:
        frames = [(position, self._payloads.pop(position)) for position in transfer.frames]
        begin = _number_begins(transfer.received)
        if begin is None:
            return
        answers = self.answers
        number = transfer.received[begin : begin + VIN_LENGTH]
        if transfer.is_whole and _NUMBER.fullmatch(number):
            answers.vins.add(number)
        answers.addresses.add((transfer.can_id, transfer.is_extended))
        if not transfer.is_whole:
            answers.broken.append((f"0x{transfer.can_id:03X}", f"{transfer.lapse}"))
        for position, at in _places(transfer, frames, begin):
            answers.spots.setdefault(position, set()).add(at)


def _number_begins(message: bytes) -> int | None:
    """Where the number stands in a message; None when it is about something else."""
    service = message[:1]
    if service in (bytes([_READ]), bytes([_WRITE])):
        if message[1:3] == b"\xf1\x90":
            return 3
        later = re.search(rb"\xf1\x90(?=[A-HJ-NPR-Z0-9]{17})", message[3:])
        return 3 + later.end() if later else None
    if message[:2] == bytes([_MODE_09, 2]):
        found = _NUMBER.search(message)
        return found.start() if found else 3
    return None


def _places(transfer: Transfer, frames: Sequence[tuple[int, bytes]], begin: int) -> Iterator[tuple[int, int]]:
    """(frame position, byte) of the number's letters and digits.

    In a message that is not whole nobody knows which bytes of its later frames are the number's: all of them.
    """
    offset = 0
    for index, (position, payload) in enumerate(frames):
        head = _head(payload)
        for at in range(head, len(payload)):
            place = offset + at - head
            inside = begin <= place < begin + VIN_LENGTH and place < (transfer.announced or place + 1)
            if (inside or (index > 0 and not transfer.is_whole)) and payload[at] in _LETTERS:
                yield position, at
        offset += len(payload) - head


def _head(payload: bytes) -> int:
    """Bytes of a frame that belong to the transport protocol."""
    kind = payload[0] >> 4
    if kind == 0:
        return 1 if payload[0] & 15 else 2
    if kind == 1:
        return 2 if payload[0] & 15 or payload[1:2] != b"\0" else 6
    return 1


def _beginnings(chunk: Capture) -> NDArray[np.int64]:
    """Frames that may begin a message about a VIN: single and first frames with the right next bytes."""
    frames = np.flatnonzero(((chunk.flags & NON_DATA) == 0) & (chunk.length >= 4))
    begin = chunk.start[frames]
    kind = chunk.data[begin] >> 4
    head = np.where(kind == 1, 2, 1) + ((kind == 0) & ((chunk.data[begin] & 15) == 0))
    head = np.where((kind == 1) & (chunk.data[begin] == 0x10) & (chunk.data[begin + 1] == 0), 6, head)
    at = begin + np.minimum(head, chunk.length[frames].astype(np.int64) - 2)
    service, following = chunk.data[at], chunk.data[at + 1]
    reads = ((service == _READ) | (service == _WRITE)) & (following == 0xF1)
    found: NDArray[np.int64] = frames[(kind <= 1) & (reads | ((service == _MODE_09) & (following == 2)))]
    return found
