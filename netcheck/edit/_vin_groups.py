"""Vehicle identification numbers (VINs) in J1939's vehicle identification (parameter group 65260).

The group is the number, and ``*`` behind it. It comes in packets, to all or to one. What could not be put
together goes, with the message before it and the one behind it: packets do not say whose they are.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

import numpy as np

from netcheck.capture import EXTENDED, Capture
from netcheck.diagnostics import (
    VIN_PIECE,
    GroupReassembler,
    GroupTransfer,
    Lapse,
    NumberTold,
    group_frames,
    told_from,
)
from netcheck.edit._vin_finds import VinFound
from netcheck.edit._vin_streams import VEHICLE_ID, group_answers

_LETTERS: Final = re.compile(rb"[A-Za-z0-9]")
_Pair = tuple[str, int, int]  # channel, source, destination


class GroupSearch:
    """Goes through one capture, chunk by chunk."""

    def __init__(self) -> None:
        self._reassembler = GroupReassembler()
        self._payloads: dict[int, bytes] = {}
        self._pairs: dict[_Pair, list[GroupTransfer]] = {}
        self._found = VinFound()
        self._before = 0

    def take(self, chunk: Capture) -> None:
        """The next chunk."""
        for i in np.flatnonzero(group_frames(chunk)).tolist():
            self._payloads[self._before + i] = chunk.payload(i)
            for transfer in self._reassembler.take(chunk, [i], self._before):
                self._ended(transfer)
        for i in group_answers(chunk).tolist():
            self._note_plain(chunk, i)
        self._before += len(chunk)

    def _ended(self, transfer: GroupTransfer) -> None:
        pair = transfer.channel, transfer.source, transfer.destination
        self._pairs.setdefault(pair, []).append(transfer)

    def _note_plain(self, chunk: Capture, index: int) -> None:
        message = chunk.payload(index)
        if VIN_PIECE.search(message):
            address = int(chunk.can_id[index]), bool(chunk.flags[index] & EXTENDED)
            self._found.tell(address, _told(message), [(self._before + index, 0, len(message))])

    def finish(self) -> VinFound:
        """What was found."""
        for transfer in self._reassembler.finish():
            self._ended(transfer)
        spoken = {
            channel
            for (channel, _, _), row in self._pairs.items()
            if any(each.group is not None and each.lapse is not Lapse.BAD_LENGTH for each in row)
        }
        for pair, row in self._pairs.items():
            self._judge(row, is_sure=pair[0] in spoken)
        return self._found

    def _judge(self, row: Sequence[GroupTransfer], *, is_sure: bool) -> None:
        """The messages of one pair, in order. Where no announcement was seen, packets must look like text."""
        spoilt = [
            not each.is_whole
            and (is_sure or any(VIN_PIECE.search(self._payloads[position]) for position in each.frames))
            for each in row
        ]
        for number, transfer in enumerate(row):
            address = transfer.can_id, True
            if any(spoilt[max(number - 1, 0) : number + 2]):
                parts = [(position, 1, len(self._payloads[position])) for position in transfer.frames]
                if parts:
                    near = (each.lapse for each in row[max(number - 1, 0) : number + 2])
                    self._found.blank(address, parts, (lapse for lapse in near if lapse is not None))
                if transfer.is_whole and transfer.group == VEHICLE_ID:
                    self._found.guesses |= _told(transfer.received).numbers
            elif transfer.is_whole:
                frames = [(position, 1, 7) for position in transfer.frames]
                if transfer.group == VEHICLE_ID and _LETTERS.search(transfer.received):
                    self._found.tell(address, _told(transfer.received), frames)
                self._found.keep(address, frames, transfer.received)


def _told(message: bytes) -> NumberTold:
    """The number, and what other letters and digits stand there: the group holds nothing else."""
    told = told_from(message, 0)
    begin, end = told.span
    rest = message[:begin] + message[end:]
    return NumberTold((0, len(message)), told.numbers, told.is_read) if _LETTERS.search(rest) else told
