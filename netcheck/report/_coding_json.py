"""The coding report as data."""

from __future__ import annotations

from typing import Any

from netcheck.coding import BlockCheck, Change, FieldCheck, Readback, Write
from netcheck.report._coding_case import CodingCase
from netcheck.report._coding_modules import modules_json, write_json
from netcheck.report._finding_words import finding_text
from netcheck.report._plan_json import coding_row


def coding_json(case: CodingCase) -> dict[str, Any]:
    """The report as JSON has it; writes stand in the order to code them, ``before`` reverts one."""
    return {
        "schema": "netcheck.coding/1",
        "job": case.plan.job,
        "vehicle": case.plan.vehicle,
        "model_year": case.plan.model_year,
        "coding": [{"item": item.retrofit, **coding_row(row)} for item, row in case.rows()],
        "conflicts": [
            {"item": item.retrofit, "kind": conflict.kind.value, "text": finding_text(conflict)}
            for item, conflict in case.conflicts()
        ],
        "writes": [_write(case, write) for write in case.plan.writes],
        "readback": None if case.readback is None else _readback(case.readback, case.source),
    }


def _write(case: CodingCase, write: Write) -> dict[str, Any]:
    before, after = bytes.fromhex(write.before), bytes.fromhex(write.after)
    return {
        "module": write.module,
        "did": write.did,
        "before": write.before,
        "after": write.after,
        "order": case.order_reason(write),
        "cautions": list(case.withheld(write)),
        "changes": [
            {**_change(change), "for": list(case.wanted_by(write, change))}
            for change in case.changes(write.module, write.did, before, after)
        ],
    }


def _change(change: Change) -> dict[str, Any]:
    return {
        "byte": change.byte,
        "bytes": change.count,
        "bit": change.bit,
        "width": change.width,
        "before": change.before,
        "after": change.after,
        "field": change.field,
        "from": change.from_,
        "to": change.to,
    }


def _readback(back: Readback, source: str) -> dict[str, Any]:
    return {
        "source": source,
        "holds": False if back.is_wrong else None if back.is_unsure else True,  # None: cannot be told
        "fields": [_field(check) for check in back.fields],
        "blocks": [_block(block) for block in back.blocks],
        **modules_json(back.modules),
        "writes": [write_json(check) for check in back.writes],
    }


def _field(check: FieldCheck) -> dict[str, Any]:
    return {
        "module": check.module,
        "did": check.did,
        "field": check.field,
        "wanted": check.wanted,
        "found": check.found,
        "status": check.status.value,
    }


def _block(block: BlockCheck) -> dict[str, Any]:
    return {
        "module": block.module,
        "did": block.did,
        "expected": block.expected,
        "found": block.found,
        "foreign": [_change(change) for change in block.foreign],
    }
