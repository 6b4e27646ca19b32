"""Writes that a capture shows against those that were planned."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from typing import TYPE_CHECKING

from netcheck.coding._model import Write
from netcheck.files import did_text
from netcheck.records import dataclass

if TYPE_CHECKING:
    from netcheck.diagnostics import ModuleReading


class WriteContent(StrEnum):
    """What a write wrote."""

    PLANNED = "planned"
    OLD = "old"  # the bytes from before: it reverts the block
    OTHER = "other"  # other bytes than planned
    UNPLANNED = "unplanned"  # a block that the job does not write


@dataclass(frozen=True)
class WriteCheck:
    """A write as seen. accepted: None where no answer was seen; code: why it was refused; data: hex

    time: seconds from the first frame of ``file``; session: of the module, None where none was seen to begin
    """

    module: str
    did: str
    data: str
    what: WriteContent
    accepted: bool | None
    code: int | None
    session: int | None
    file: str
    time: float | None


def match_writes(writes: Sequence[Write], seen: Sequence[ModuleReading]) -> tuple[WriteCheck, ...]:
    """Every write that was seen, by file and time; none of a module that the vehicle file does not name."""
    planned = {(write.module, write.did): write for write in writes}
    found = []
    for module in seen:
        for each in module.writes if module.name is not None else ():
            did, data = did_text(each.did), each.data.hex().upper()
            write = planned.get((module.name or "", did))
            if write is None:
                what = WriteContent.UNPLANNED
            elif data == write.after:
                what = WriteContent.PLANNED
            else:
                what = WriteContent.OLD if data == write.before else WriteContent.OTHER
            outcome = each.accepted, each.code, each.session
            found.append(WriteCheck(module.name or "", did, data, what, *outcome, each.file, each.time))
    return tuple(sorted(found, key=lambda check: (check.file, check.time or 0.0)))
