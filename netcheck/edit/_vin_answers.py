"""Vehicle identification numbers (VINs) in messages of the transport protocol (ISO 15765-2).

What is between two single frames of an id stands or falls together: only if all its messages are whole does
anybody know which frame is whose. Otherwise all of it goes.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import field
from typing import Final

import numpy as np

from netcheck.capture import EXTENDED, Capture
from netcheck.diagnostics import (
    ADDRESS_BYTES,
    VIN_PIECE,
    Address,
    Reassembler,
    Transfer,
    number_begins,
    number_told,
    of_addresses,
)
from netcheck.edit._vin_finds import Placed, VinFound
from netcheck.edit._vin_streams import short_answers
from netcheck.records import dataclass

_SHORT: Final = re.compile(rb"[\x00-\x0f]*[A-HJ-NPR-Z0-9]+[\x00\xff\x55\xaa\xcc]*")
_CONSECUTIVE, _FLOW = 2, 3

_Key = tuple[str, Address, int | None]  # channel, id, address byte


@dataclass
class _Stream:
    """What an id told in one addressing.

    is_sure: as ``StreamSearch.streams`` says
    whole:   messages of several frames that came whole, one behind the other
    """

    is_sure: bool
    found: VinFound = field(default_factory=VinFound)
    whole: int = 0


class AnswerSearch:
    """Goes through one capture, chunk by chunk. streams: as ``StreamSearch.streams`` finds them"""

    def __init__(
        self, streams: Mapping[tuple[Address, int], bool], signed: Iterable[tuple[Address, int]]
    ) -> None:
        self._streams = {stream: _Stream(is_sure) for stream, is_sure in streams.items()}
        self._signed = frozenset(signed)
        self._readers = {
            skip: _RunReader(
                skip, {address: each for (address, s), each in self._streams.items() if s == skip}
            )
            for skip in ADDRESS_BYTES
        }
        self._short = VinFound()
        self._before = 0

    def take(self, chunk: Capture) -> None:
        """The next chunk."""
        for skip, reader in self._readers.items():
            chosen = of_addresses(chunk, reader.ids)
            reader.take(chunk, np.flatnonzero(chosen).tolist(), self._before)
            for i in short_answers(chunk, skip).tolist():
                if not chosen[i]:
                    self._note_short(chunk, i, skip)
        self._before += len(chunk)

    def _note_short(self, chunk: Capture, index: int, skip: int) -> None:
        """A single frame of an id not known to carry messages: it has to look like a number's piece."""
        payload = chunk.payload(index)
        head = _head(payload, skip)
        size = payload[skip] & 15 if head == skip + 1 else payload[skip + 1]
        message = payload[head : head + size]
        begin = number_begins(message)
        if begin is not None and _SHORT.fullmatch(message[begin:]):
            told = number_told(message)
            assert told is not None, "a message about a number tells of it"
            address = int(chunk.can_id[index]), bool(chunk.flags[index] & EXTENDED)
            self._short.tell(address, told, [(self._before + index, head, len(message))])

    def finish(self) -> VinFound:
        """What was found. Of two addressings of an id, one that put messages together rules out the other."""
        for reader in self._readers.values():
            reader.finish()
        found = self._short
        for (address, skip), stream in self._streams.items():
            other = self._streams.get((address, 1 - skip))
            if stream.whole or other is None or not other.whole or (address, skip) in self._signed:
                found.add(stream.found)
        return found


class _RunReader:
    """Messages of some ids in one addressing, run by run: a run is what is between two single frames."""

    def __init__(self, skip: int, streams: Mapping[Address, _Stream]) -> None:
        self._skip = skip
        self._streams = streams
        self._reassembler = Reassembler(address_bytes=skip)
        self._payloads: dict[int, bytes] = {}
        self._runs: dict[_Key, list[Transfer]] = {}

    @property
    def ids(self) -> Collection[Address]:
        return self._streams.keys()

    def take(self, chunk: Capture, chosen: Sequence[int], before: int) -> None:
        for i in chosen:
            payload = chunk.payload(i)
            if len(payload) > self._skip and payload[self._skip] >> 4 < _FLOW:
                self._payloads[before + i] = payload
                for transfer in self._reassembler.take(chunk, [i], before):
                    self._ended(transfer)

    def finish(self) -> None:
        for transfer in self._reassembler.finish():
            self._ended(transfer)
        for key in list(self._runs):
            self._close(key)

    def _ended(self, transfer: Transfer) -> None:
        key = transfer.channel, (transfer.can_id, transfer.is_extended), transfer.target
        if self._payloads[transfer.frames[0]][self._skip] >> 4:
            self._runs.setdefault(key, []).append(transfer)
            return
        if transfer.is_whole:
            self._close(key)
            self._whole(transfer)
        elif number_begins(transfer.received) is not None:
            self._blank(key[1], [transfer])
        self._forget(transfer)

    def _close(self, key: _Key) -> None:
        run, address = self._runs.pop(key, []), key[1]
        stream = self._streams[address]
        if all(transfer.is_whole for transfer in run):
            stream.whole += len(run)
            for transfer in run:
                self._whole(transfer)
        else:
            for transfer in run:
                told = number_told(transfer.received) if transfer.is_whole else None
                stream.found.guesses |= told.numbers if told else frozenset()
            if stream.is_sure or any(map(self._holds_text, (at for each in run for at in each.frames))):
                self._blank(address, run)
        for transfer in run:
            self._forget(transfer)

    def _holds_text(self, position: int) -> bool:
        """Whether it is a consecutive frame with characters as a number has."""
        payload = self._payloads[position]
        return payload[self._skip] >> 4 == _CONSECUTIVE and VIN_PIECE.search(payload) is not None

    def _forget(self, transfer: Transfer) -> None:
        for position in transfer.frames:
            del self._payloads[position]

    def _whole(self, transfer: Transfer) -> None:
        frames, address = self._placed(transfer), (transfer.can_id, transfer.is_extended)
        found, told = self._streams[address].found, number_told(transfer.data)
        if told is not None:
            found.tell(address, told, frames)
        found.keep(address, frames, transfer.data)

    def _placed(self, transfer: Transfer) -> Placed:
        rows, left = [], transfer.announced
        for position in transfer.frames:
            payload = self._payloads[position]
            head = _head(payload, self._skip)
            size = min(len(payload) - head, left)
            left -= size
            rows.append((position, head, size))
        return rows

    def _blank(self, address: Address, run: Sequence[Transfer]) -> None:
        """All bytes behind those of the protocol, and behind those that say that a number follows."""
        parts = []
        for transfer in run:
            kept = number_begins(transfer.received) or 0
            for position in transfer.frames:
                payload = self._payloads[position]
                parts.append((position, _head(payload, self._skip) + kept, len(payload)))
                kept = 0
        self._streams[address].found.blank(address, parts, (each.lapse for each in run if each.lapse))


def _head(payload: bytes, skip: int) -> int:
    """Bytes of a frame that belong to the transport protocol."""
    lead, kind = payload[skip], payload[skip] >> 4
    if kind == 0:
        return skip + (1 if lead & 15 or len(payload) <= 8 else 2)
    if kind == 1:
        return skip + (2 if lead & 15 or payload[skip + 1 : skip + 2] != b"\0" else 6)
    return skip + 1
