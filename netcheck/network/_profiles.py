"""AUTOSAR end-to-end protection, profiles 1 and 2, where the user gives a message's data ids.

Profile 1: CRC-8 SAE J1850, start 0, no final exclusive-or, over the data id and the data behind the CRC;
CRC in byte 0, counter 0 to 14 in the low nibble of byte 1. Of the data id go in: low byte, then high byte
("both"); low byte at even counters, high byte at odd ones ("alternating"); low byte only ("low"); low byte,
then 0 ("nibble").
Profile 2: CRC-8 0x2F with start 0xFF and final 0xFF over the data behind the CRC and the counter's entry of
a list of 16 data ids; places as in profile 1, counter 0 to 15.
Source: AUTOSAR PRS_E2EProtocol; its worked examples are in the tests.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from netcheck.capture import NON_DATA, Capture
from netcheck.errors import UsageError
from netcheck.network._crc import crc_table
from netcheck.network._survey_findings import LEAST_CHANGES
from netcheck.network._survey_model import (
    ChecksumFinding,
    ChecksumKind,
    DataIdMode,
    DataIdProblem,
    DataIdProblemKind,
)
from netcheck.network._traffic import FrameId

DataIds = Mapping[FrameId, tuple[int, ...]]

_1D: Final = crc_table(0x1D)
_2F: Final = crc_table(0x2F)
HOLDS: Final = 0.5  # share of frames that pass: with a data id given, one in 256 would by chance
MODES: Final = tuple(DataIdMode)
Bytes = NDArray[np.uint8]


def profile_1(payloads: Bytes, data_id: int, mode: str) -> Any:
    """uint8[n]: the CRC that belongs into byte 0 of each row of ``payloads`` (uint8[n, length])."""
    low, high = np.uint8(data_id & 0xFF), np.uint8(data_id >> 8)
    crc = np.zeros(len(payloads), np.uint8)
    if mode == "alternating":
        odd = (payloads[:, 1] & 1) == 1
        crc = _1D[crc ^ np.where(odd, high, low)]
    else:
        crc = _1D[crc ^ low]
        if mode != "low":
            crc = _1D[crc ^ (high if mode == "both" else np.uint8(0))]
    for byte in range(1, payloads.shape[1]):
        crc = _1D[crc ^ payloads[:, byte]]
    return crc


def profile_2(payloads: Bytes, data_ids: tuple[int, ...]) -> Any:
    """As :func:`profile_1`; ``data_ids``: the list of 16, one byte each."""
    crc = np.full(len(payloads), 0xFF, np.uint8)
    for byte in range(1, payloads.shape[1]):
        crc = _2F[crc ^ payloads[:, byte]]
    listed = np.array(data_ids, np.uint8)[payloads[:, 1] & 15]
    crc = _2F[crc ^ listed]
    return crc ^ np.uint8(0xFF)


class ProfileTally:
    """One channel's frames of the ids with data ids, chunk by chunk."""

    def __init__(self, data_ids: DataIds) -> None:
        self._data_ids = data_ids
        self._frames = dict.fromkeys(data_ids, 0)
        self._changes = dict.fromkeys(data_ids, 0)
        self._last: dict[FrameId, bytes] = {}
        self._passed: dict[tuple[FrameId, DataIdMode | None], int] = {}

    def add(self, chunk: Capture, rows: NDArray[np.int64]) -> None:
        """Take a channel's frames of a chunk."""
        for frame_id, data_ids in self._data_ids.items():
            same = (chunk.can_id[rows] == frame_id.can_id) & (chunk.is_extended[rows] == frame_id.is_extended)
            mine = rows[same & ((chunk.flags[rows] & NON_DATA) == 0)]
            self._frames[frame_id] += len(mine)
            for length in np.unique(chunk.length[mine]).tolist():
                if length >= 2:
                    chosen = mine[chunk.length[mine] == length]
                    self._add(
                        frame_id, data_ids, chunk.data[chunk.start[chosen][:, None] + np.arange(length)]
                    )

    def _add(self, frame_id: FrameId, data_ids: tuple[int, ...], payloads: Bytes) -> None:
        before = self._last.get(frame_id)
        self._changes[frame_id] += int((payloads[1:] != payloads[:-1]).any(axis=1).sum())
        self._changes[frame_id] += before is None or before != payloads[0].tobytes()
        self._last[frame_id] = payloads[-1].tobytes()
        made: dict[DataIdMode | None, Any] = (
            {None: profile_2(payloads, data_ids)} if len(data_ids) == 16 else {}
        )
        if not made:
            made = {mode: profile_1(payloads, data_ids[0], mode) for mode in MODES}
        for mode, crc in made.items():
            right = crc == payloads[:, 0]
            if mode is not None:  # counter value 15 is none of profile 1
                right &= (payloads[:, 1] & 15) != 15
            key = frame_id, mode
            self._passed[key] = self._passed.get(key, 0) + int(right.sum())

    def result(self, frame_id: FrameId) -> ChecksumFinding | None:
        """The profile's check of an id that has data ids, if it holds: half of the frames, 16 changes."""
        if not self._is_known(frame_id):
            return None
        mode, share = self._best(frame_id)
        if share < HOLDS:
            return None
        kind = ChecksumKind.PROFILE_1 if mode is not None else ChecksumKind.PROFILE_2
        return ChecksumFinding(kind, 0, share, self._frames[frame_id], mode=mode)

    def problem(self, frame_id: FrameId) -> DataIdProblem | None:
        """Why the data ids of an id show nothing here; None where they do, or the id never came."""
        frames = self._frames[frame_id]
        if not frames or self.result(frame_id) is not None:
            return None
        if not self._is_known(frame_id):
            return DataIdProblem(DataIdProblemKind.FEW_CHANGES, frame_id, frames)
        _, share = self._best(frame_id)
        return DataIdProblem(DataIdProblemKind.WRONG, frame_id, frames, share)

    def has_seen(self, frame_id: FrameId) -> bool:
        """Whether frames of the id came."""
        return self._frames[frame_id] > 0

    def _is_known(self, frame_id: FrameId) -> bool:
        return self._frames.get(frame_id, 0) > 0 and self._changes[frame_id] >= LEAST_CHANGES

    def _best(self, frame_id: FrameId) -> tuple[DataIdMode | None, float]:
        """Which bytes of the data id go in, by the share of frames that pass."""
        passed = {mode: count for (owner, mode), count in self._passed.items() if owner == frame_id}
        mode = max(passed, key=passed.__getitem__, default=None)
        return mode, passed.get(mode, 0) / self._frames[frame_id]


def check_data_ids(data_ids: DataIds) -> None:
    """Raises UsageError unless each id has one data id of 16 bits, or a list of 16 of one byte."""
    for frame_id, values in data_ids.items():
        largest = {1: 0xFFFF, 16: 0xFF}.get(len(values))
        if largest is None or not all(0 <= value <= largest for value in values):
            raise UsageError(
                f"the data ids of {frame_id} are of no profile",
                remedy="give one number up to 0xFFFF (profile 1), or 16 up to 0xFF (profile 2)",
            )
