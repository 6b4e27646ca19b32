"""Coding blocks to write, byte by byte, with the bits that change."""

from __future__ import annotations

from typing import Any

from netcheck.coding import Write
from netcheck.plan import Plan
from netcheck.report.viewing import block_rows, block_waits, row_change, row_place


def coding_blocks(plan: Plan) -> list[dict[str, Any]]:
    """One entry a block: its bytes old and new, the bits of those that change, and the fields that do it."""
    return [
        {
            "module": write.module,
            "did": write.did,
            "waits": block_waits(plan, write),
            "bytes": [_byte(write, number) for number in range(len(write.before) // 2)],
            "fields": [{"place": row_place(row), "text": row_change(row)} for row in block_rows(plan, write)],
        }
        for write in plan.writes
    ]


def _byte(write: Write, number: int) -> dict[str, Any]:
    old, new = (digits[2 * number : 2 * number + 2] for digits in (write.before, write.after))
    before, after = int(old, 16), int(new, 16)
    return {
        "number": number,
        "old": old,
        "new": new,
        "changes": old != new,
        "bits": [
            {"number": bit, "old": before >> bit & 1, "new": after >> bit & 1} for bit in range(7, -1, -1)
        ],
    }
