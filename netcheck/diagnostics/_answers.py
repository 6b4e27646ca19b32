"""What is in the answers: identifiers with their bytes, fault codes, information types."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from netcheck.diagnostics._fault_codes import fault_code
from netcheck.diagnostics._readout_model import FaultRead
from netcheck.diagnostics._services import (
    OBD_CALIBRATION,
    OBD_INFO_BASE,
    OBD_PENDING,
    OBD_PERMANENT,
    OBD_STORED,
    OBD_VIN,
)
from netcheck.files import FaultCode

LISTS: Final = frozenset((0x02, 0x0A, 0x0B, 0x0C, 0x0D, 0x0E, 0x0F, 0x13, 0x15))  # code and status, again
COUNTS: Final = frozenset((0x01, 0x07, 0x11, 0x12))  # how many, no codes
_KINDS: Final = {OBD_STORED: "stored", OBD_PENDING: "pending", OBD_PERMANENT: "permanent"}
_CALIBRATION: Final = 16  # bytes of one
_MOST_STEPS: Final = 10_000
_MOST_PLACES: Final = 8  # of an identifier in an answer, before nobody can tell which are its own


def split_read(
    request: bytes, answer: bytes, lengths: Mapping[int, int]
) -> Sequence[tuple[int, bytes]] | None:
    """Identifiers and their bytes in an answer to a read; None where the borders cannot be told.

    A way to read it with all identifiers that were asked for comes before one that lacks some.

    request: of the service on: 22 and the identifiers; answer: 62, and identifier and bytes for each. A
    module may leave out identifiers that it lacks. lengths: known ones, by identifier
    """
    asked = [int.from_bytes(request[at : at + 2], "big") for at in range(1, len(request) - 1, 2)]
    if len(asked) == 1:
        return [(asked[0], answer[3:])]
    for skips in (False, True):
        found = _ways(answer, asked, lengths, skips=skips)
        if found is None or len(found) > 1:
            return None
        if found:
            return found[0]
    return None


def _ways(
    answer: bytes, asked: Sequence[int], lengths: Mapping[int, int], *, skips: bool
) -> list[list[tuple[int, bytes]]] | None:
    """The ways to read an answer; None where there are too many to try. skips: it may lack identifiers"""
    places = {did: _places(answer, did) for did in asked}
    if len(set(asked)) < len(asked) or any(len(at) > _MOST_PLACES for at in places.values()):
        return None
    found: list[list[tuple[int, bytes]]] = []
    pending: list[tuple[int, int, list[tuple[int, bytes]]]] = [
        (index, 1, []) for index, did in enumerate(asked if skips else asked[:1]) if 1 in places[did]
    ]
    for _ in range(_MOST_STEPS):
        if not pending:
            return found
        index, at, before = pending.pop()
        did = asked[index]
        due = lengths.get(did)
        if due in {None, len(answer) - at - 2} and (skips or index == len(asked) - 1):
            found.append([*before, (did, answer[at + 2 :])])
        for later in range(index + 1, len(asked) if skips else min(index + 2, len(asked))):
            pending += [
                (later, place, [*before, (did, answer[at + 2 : place])])
                for place in places[asked[later]]
                if place > at + 2 and due in {None, place - at - 2}
            ]
    return None


def _places(answer: bytes, did: int) -> list[int]:
    wanted = did.to_bytes(2, "big")
    found: list[int] = []
    at = answer.find(wanted, 1)
    while at >= 0 and len(found) <= _MOST_PLACES:
        found.append(at)
        at = answer.find(wanted, at + 1)
    return found


def listed_faults(report: bytes) -> tuple[FaultRead, ...] | None:
    """Codes of a fault report (59 XX mask, then code and status); None where its length cannot be."""
    rows = report[3:]
    if len(report) < 3 or len(rows) % 4:
        return None
    return tuple(
        FaultRead(FaultCode(fault_code(rows[at : at + 3]), rows[at + 3])) for at in range(0, len(rows), 4)
    )


def obd_faults(service: int, answer: bytes) -> tuple[FaultRead, ...] | None:
    """Codes of modes 03, 07 and 0A (count, then two bytes each); None where its length cannot be."""
    if len(answer) < 2 or len(answer) - 2 < 2 * answer[1] or answer[2 + 2 * answer[1] :].strip(b"\0"):
        return None
    rows = answer[2 : 2 + 2 * answer[1]]
    return tuple(
        FaultRead(FaultCode(fault_code(rows[at : at + 2])), _KINDS[service]) for at in range(0, len(rows), 2)
    )


def obd_info(answer: bytes) -> tuple[int, bytes] | None:
    """Identifier and bytes of an answer of mode 09 with text (49 type count …); None for another type."""
    if len(answer) < 4:
        return None
    did = OBD_INFO_BASE + answer[1]
    if did == OBD_VIN:
        return did, answer[3:]
    if did == OBD_CALIBRATION:
        rows = [answer[at : at + _CALIBRATION].rstrip(b"\0") for at in range(3, len(answer), _CALIBRATION)]
        return did, b", ".join(rows)
    return (did, answer[3:]) if answer[1] == 0x0A else None
