"""The checklist's coding: one step a block, modules in their order."""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.coding import CodingRow, CodingStatus, Write
from netcheck.files import LoadedJob
from netcheck.verdict import ItemResult, Verdict
from netcheck.words import unique
from netcheck.work._actions import (
    Action,
    CodeOnceRead,
    CodeWithCare,
    CodingTurn,
    HoldBlock,
    ReadBack,
    WriteBlock,
)
from netcheck.work._stages import Step
from netcheck.work._todo import coding_order, in_write, module_title


def coding_steps(job: LoadedJob, items: tuple[ItemResult, ...], writes: tuple[Write, ...]) -> Iterator[Step]:
    """Who codes and how, then every block old to new."""
    to_do = to_code(items)
    if to_do:
        yield Step("code", (), CodeWithCare())
    stopped = [(item.retrofit, row) for item in items if item.verdict is Verdict.NO_GO for row in item.coding]
    ordered = coding_order(job, {row.module for _, row in to_do})
    for module in ordered:
        turn = _turn(job, module) if len(ordered) > 1 else None
        here = [(item.retrofit, row) for item, row in to_do if row.module == module]
        for did in sorted({row.did or "" for _, row in here}):
            block = [(name, row) for name, row in here if row.did == did]
            write = next((entry for entry in writes if (entry.module, entry.did) == (module, did)), None)
            names = unique(name for name, _ in block)
            yield Step("code", names, _block(job, block, write, stopped, turn))


def read_back(job: LoadedJob, items: tuple[ItemResult, ...]) -> Iterator[Step]:
    """What ends the coding, where there is any."""
    if to_code(items):
        yield Step("code", (), ReadBack(job.file.as_posix() if job.file is not None else None))


def to_code(items: tuple[ItemResult, ...]) -> list[tuple[ItemResult, CodingRow]]:
    """The changes of all items that are not no-go, the ones whose bytes nobody knows yet among them."""
    return [
        (item, row)
        for item in items
        if item.verdict is not Verdict.NO_GO
        for row in item.coding
        if row.did is not None and row.status in {CodingStatus.TO_DO, CodingStatus.UNKNOWN}
    ]


def _turn(job: LoadedJob, key: str) -> CodingTurn | None:
    module = job.vehicle.model.module.get(key)
    if module is None or module.coding_order is None:
        return None
    return CodingTurn(module.coding_order, module.coding_why)


def _block(
    job: LoadedJob,
    block: list[tuple[str, CodingRow]],
    write: Write | None,
    stopped: list[tuple[str, CodingRow]],
    turn: CodingTurn | None,
) -> Action:
    """One block: old to new; or why it cannot be written as it stands."""
    first = block[0][1]
    module, did = module_title(job, first.module), first.did or ""
    rows = tuple({row.field: row for _, row in block}.values())  # several items may want the same change
    if write is None or any(row.status is CodingStatus.UNKNOWN for row in rows):
        return CodeOnceRead(module, did, rows, turn)
    held = unique(name for name, row in stopped if in_write(row, write))
    if held:
        return HoldBlock(module, did, held, turn)
    return WriteBlock(module, write, rows, turn)
