"""The checklist's coding: one step a block, in their order."""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.coding import CodingPlace, CodingRow, CodingStatus, Write, order_blocks
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
from netcheck.work._todo import module_title, sharing


def coding_steps(job: LoadedJob, items: tuple[ItemResult, ...], writes: tuple[Write, ...]) -> Iterator[Step]:
    """Who codes and how, then every block old to new."""
    to_do = to_code(items)
    if to_do:
        yield Step("code", (), CodeWithCare())
    stopped = [item for item in items if item.verdict is Verdict.NO_GO]
    going = [item for item in items if item.verdict is not Verdict.NO_GO]
    ordered = order_blocks(job.vehicle.model, job.model_year, [row for _, row in to_do])
    several = len({place.module for place in ordered}) > 1
    for place in ordered:
        block = [(item.retrofit, row) for item, row in to_do if (row.module, row.did) == place.block]
        write = next((entry for entry in writes if (entry.module, entry.did) == place.block), None)
        turn = coding_turn(job, place, several=several)
        held = sharing(stopped, going, write) if write is not None else ()
        yield Step("code", unique(name for name, _ in block), _block(job, block, write, held, turn))


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


def coding_turn(job: LoadedJob, place: CodingPlace, *, several: bool) -> CodingTurn | None:
    """Why a block stands where it does; None where nothing says so. several: modules are coded"""
    module = job.vehicle.model.module.get(place.module)
    stated = module if several and module is not None and module.coding_order is not None else None
    together = tuple(" ".join(block) for block in place.together)
    if stated is None and not place.afters and not together:
        return None
    return CodingTurn(
        stated.coding_place if stated is not None else None,
        stated.coding_why if stated is not None else "",
        place.afters,
        together,
    )


def _block(
    job: LoadedJob,
    block: list[tuple[str, CodingRow]],
    write: Write | None,
    held: tuple[str, ...],
    turn: CodingTurn | None,
) -> Action:
    """One block: old to new; or why it cannot be written as it stands.

    held: no-go items for which the write changes something too
    """
    first = block[0][1]
    module, did = module_title(job, first.module), first.did or ""
    rows = tuple({row.field: row for _, row in block}.values())  # several items may want the same change
    if write is None or any(row.status is CodingStatus.UNKNOWN for row in rows):
        return CodeOnceRead(module, did, rows, turn)
    if held:
        return HoldBlock(module, did, held, turn)
    return WriteBlock(module, write, rows, turn)
