"""Words, signs and colours of a plan's states. A sign is never alone: a word stands by it."""

from __future__ import annotations

from typing import Final

from netcheck.coding import CodingRow, CodingStatus
from netcheck.report._page import Style
from netcheck.verdict import ItemResult, NeedResult, Status, Verdict

VERDICT_WORDS: Final = {
    Verdict.NO_GO: "NO-GO",
    Verdict.UNPROVEN: "UNPROVEN",
    Verdict.GO_WITH_CHANGES: "GO WITH CHANGES",
    Verdict.GO: "GO",
}
VERDICT_SIGNS: Final = {
    Verdict.NO_GO: "X",
    Verdict.UNPROVEN: "?",
    Verdict.GO_WITH_CHANGES: "*",
    Verdict.GO: "+",
}
VERDICT_STYLES: Final = {
    Verdict.NO_GO: Style.BAD,
    Verdict.UNPROVEN: Style.DOUBT,
    Verdict.GO_WITH_CHANGES: Style.CHANGE,
    Verdict.GO: Style.GOOD,
}
STATUS_SIGNS: Final = {
    Status.MISSING: "X",
    Status.EXPECTED: "?",
    Status.AFTER_CODING: "*",
    Status.SUPPLIED: "*",
    Status.SHOWN: "+",
}
STATUS_STYLES: Final = {
    Status.MISSING: Style.BAD,
    Status.EXPECTED: Style.DOUBT,
    Status.AFTER_CODING: Style.CHANGE,
    Status.SUPPLIED: Style.CHANGE,
    Status.SHOWN: Style.GOOD,
}
WIDEST_NAME: Final = 24  # cells of the column of names; a longer name gets a line of its own


def needs_of(item: ItemResult, *statuses: Status) -> tuple[NeedResult, ...]:
    """The item's needs that decide its verdict and have one of these statuses."""
    return tuple(need for need in item.needs if need.status in statuses and not need.optional)


def rows_of(item: ItemResult, status: CodingStatus) -> tuple[CodingRow, ...]:
    """The item's coding rows of a status."""
    return tuple(row for row in item.coding if row.status is status)


def value_text(value: str | int | None) -> str:
    """A coding value as people read it."""
    return "unknown" if value is None else str(value)
