"""Coding as old and new bytes, one block after the other, with the changed bits named."""

from __future__ import annotations

from netcheck.coding import CodingRow, Write
from netcheck.plan import Plan
from netcheck.report._page import Page, Style
from netcheck.report._plan_words import VERDICT_WORDS, value_text
from netcheck.report._states import write_states
from netcheck.verdict import ItemResult
from netcheck.words import listing, spaced, unique
from netcheck.work import in_write

Rows = list[tuple[ItemResult, CodingRow]]


def write_coding(page: Page, plan: Plan) -> None:
    """Every block to write; nothing where no block is to be written."""
    if not plan.writes:
        return
    page.heading("Coding – netcheck writes nothing to a vehicle")
    for write in plan.writes:
        waits = block_waits(plan, write)
        page.entry(f"{write.module}, block {write.did}", f"– {waits}" if waits else "", style=Style.STRONG)
        write_states(page, ("old, to revert", write.before), ("new", write.after))
        for row in block_rows(plan, write):
            page.entry(f"{row_place(row)}:", row_change(row), indent=2)


def _rows(plan: Plan, write: Write) -> Rows:
    return [(item, row) for item in plan.items for row in item.coding if in_write(row, write)]


def block_rows(plan: Plan, write: Write) -> tuple[CodingRow, ...]:
    """What a write changes: one row a field."""
    return tuple({row.field: row for _, row in _rows(plan, write)}.values())


def block_waits(plan: Plan, write: Write) -> str:
    """Why a block is not to be written yet; "" when it may be."""
    waiting = unique(
        f"{item.retrofit} is {VERDICT_WORDS[item.verdict]}"
        for item, _ in _rows(plan, write)
        if not item.verdict.is_fittable
    )
    return f"not yet: {listing(waiting)}" if waiting else ""


def row_place(row: CodingRow) -> str:
    """The byte or bytes of a row."""
    if row.byte is None or row.after is None:
        return row.field
    count = len(row.after) // 2
    return f"byte {row.byte}" if count == 1 else f"bytes {row.byte}–{row.byte + count - 1}"


def row_change(row: CodingRow) -> str:
    """``1F → 3F  bit 5 park_distance_module: absent → fitted``."""
    bits = _bits(row)
    name = f"{bits} {row.field}" if bits else row.field
    unlock = f" (unlocks {row.unlock})" if row.unlock else ""
    before, after = spaced(row.before or "?"), spaced(row.after or "?")
    return f"{before} → {after}, {name}: {value_text(row.from_)} → {row.to}{unlock}"


def _bits(row: CodingRow) -> str:
    """The bits of one byte that a row's field takes; "" for whole bytes."""
    if row.mask is None or len(row.mask) != 2 or row.mask == "FF":
        return ""
    mask = int(row.mask, 16)
    lowest, highest = (mask & -mask).bit_length() - 1, mask.bit_length() - 1
    return f"bit {lowest}" if lowest == highest else f"bits {lowest}–{highest}"
