"""One vehicle over its model years as a matrix for people, and as JSON."""

from __future__ import annotations

from typing import Any, Final

from netcheck.report._page import Page, Style, StyledText
from netcheck.report._plan_words import VERDICT_STYLES
from netcheck.report._wrap import clean
from netcheck.verdict import Verdict
from netcheck.words import unique
from netcheck.years import Ground, YearCell, YearsPlan, YearsRow

YEARS_SCHEMA: Final = "netcheck.years/1"
_SHORT: Final = {
    Verdict.NO_GO: "no-go",
    Verdict.UNPROVEN: "unproven",
    Verdict.GO_WITH_CHANGES: "changes",
    Verdict.GO: "go",
}
_CELL: Final = 10  # columns of a year
_NAME: Final = 14  # least columns of the names


def years_text(plan: YearsPlan, *, width: int = 80, colour: bool = False) -> str:
    """Item × model year, then for each item the reasons that change from year to year."""
    page = Page(width)
    page.text(f"{plan.vehicle} – {clean(plan.title)}")
    column = max(_NAME, *(len(row.retrofit) + 2 for row in plan.rows))
    column = min(column, page.width - _CELL)
    most = max((page.width - column) // _CELL, 1)
    for start in range(0, len(plan.years), most):
        page.blank()
        _write_table(page, plan, slice(start, start + most), column)
    page.heading("First reason that differs from the year before")
    for row in plan.rows:
        told = [f"{cell.year} {ground_text(cell)}" for cell in row.cells if cell.first is not None]
        page.entry(row.retrofit, "; ".join(told) or "none", column=column)
    _write_peers(page, plan, column)
    page.blank()
    own = unique(cell.year for row in plan.rows for cell in row.cells if cell.is_own)
    count = f" Captures, readouts and wires count for {own[0]} only." if own else ""
    page.text(f"The word changes is for go with changes.{count}")
    return page.render(colour=colour)


def _write_peers(page: Page, plan: YearsPlan, column: int) -> None:
    """What an archive knows of other vans, where it was asked."""
    if not any(cell.peers for row in plan.rows for cell in row.cells):
        return
    page.heading("Seen moving on other vans of the year, by the archive: it decides nothing")
    for row in plan.rows:
        told = [f"{cell.year} {cell.peers[0]} of {cell.peers[1]}" for cell in row.cells if cell.peers]
        if told:
            page.entry(row.retrofit, f"of the needs not proven: {', '.join(told)}", column=column)


def _write_table(page: Page, plan: YearsPlan, chosen: slice, column: int) -> None:
    head = "".join(f"{year:<{_CELL}}" for year in plan.years[chosen])
    page.raw(StyledText(" " * column), StyledText(head, Style.STRONG))
    for row in plan.rows:
        name = clean(row.retrofit)
        if len(name) >= column:
            page.raw(StyledText(name))
            name = ""
        cells = [
            StyledText(
                _SHORT[cell.verdict].ljust(_CELL),
                VERDICT_STYLES[cell.verdict],
            )
            for cell in row.cells[chosen]
        ]
        page.raw(StyledText(name.ljust(column)), *cells)


def ground_text(cell: YearCell) -> str:
    """``clutch-pedal missing (other-network)``; ``no longer: …`` for a reason that is gone."""
    if cell.first is None:
        return ""
    text = _ground(cell.first)
    return f"no longer: {text}" if cell.is_gone else text


def _ground(ground: Ground) -> str:
    return {
        "conflict": f"{ground.code} {ground.subject}",
        "missing": f"{ground.subject} missing ({ground.code})",
        "expected": f"{ground.subject} not proven ({ground.code})",
        "question": f"{ground.subject} unknown ({ground.code})",
        "not-read": f"{ground.subject} not read",
        "after-coding": f"{ground.subject} after coding",
        "supplied": f"{ground.subject} from another source",
        "to-do": f"{ground.subject} to set",
    }[ground.kind]


def years_json(plan: YearsPlan) -> dict[str, Any]:
    """The matrix as plain values. ``reason`` is None where nothing differs from the year before."""
    return {
        "schema": YEARS_SCHEMA,
        "vehicle": plan.vehicle,
        "title": plan.title,
        "years": list(plan.years),
        "items": [_row(row) for row in plan.rows],
    }


def _row(row: YearsRow) -> dict[str, Any]:
    return {"retrofit": row.retrofit, "network": row.network, "cells": [_cell(cell) for cell in row.cells]}


def _cell(cell: YearCell) -> dict[str, Any]:
    first = cell.first
    return {
        "year": cell.year,
        "verdict": cell.verdict.value,
        "own": cell.is_own,
        "reason": None if first is None else first.code,
        "kind": None if first is None else first.kind,
        "subject": None if first is None else first.subject,
        "gone": cell.is_gone,
        "peers": list(cell.peers) if cell.peers else None,
        "text": ground_text(cell),
    }
