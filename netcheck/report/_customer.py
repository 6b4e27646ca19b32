"""A verdict in one sentence that can be read to a customer, no more than was seen."""

from __future__ import annotations

from typing import Final

from netcheck.coding import CodingStatus
from netcheck.report._plan_words import needs_of, rows_of
from netcheck.verdict import ConflictKind, ItemResult, Status, Verdict
from netcheck.words import counted, listing, unique

NO_SIGNAL: Final = "it needs no signal of the vehicle"
_STOPS: Final = {
    ConflictKind.ID_IN_USE: "it would disturb something that is on the vehicle's network already",
    ConflictKind.TWO_SOURCES: "something on the vehicle already does what it does",
    ConflictKind.FACT_MISMATCH: "the part does not match the vehicle",
    ConflictKind.MODULE_ABSENT: "the vehicle lacks a control unit that it needs",
    ConflictKind.CODING_CONFLICT: "another part of this job wants the same setting otherwise",
    ConflictKind.CODING_UNDEFINED: "the vehicle has no setting for it that we know of",
    ConflictKind.LOST_SOURCE: "another part of this job takes away a signal that it needs",
    ConflictKind.OVERLOAD: "the vehicle's network would become too full",
    ConflictKind.RESOURCE_MISSING: "it needs something of another part that is missing or taken",
}


def customer_text(item: ItemResult) -> str:
    """``Can be fitted: the vehicle gives it every signal that it needs.``"""
    if item.verdict is Verdict.NO_GO:
        return f"Cannot be fitted as planned: {_stop(item)}."
    if item.verdict is Verdict.UNPROVEN:
        return f"We cannot promise it yet: {_open(item)}."
    rows = rows_of(item, CodingStatus.TO_DO)
    if not rows:
        given = (
            "what we looked at on the vehicle suits it" if item.needs else "it needs no signal of the vehicle"
        )
        return f"Can be fitted: {given}."
    modules = len(unique(row.module for row in rows))
    settings = counted(len(unique((row.module, row.field) for row in rows)), "setting")
    return f"Can be fitted: {settings} in {counted(modules, 'control unit')} change, and can change back."


def _stop(item: ItemResult) -> str:
    if item.conflicts:
        return _STOPS[item.conflicts[0].kind]
    missing = unique(need.role.replace("-", " ").replace(".", " ") for need in needs_of(item, Status.MISSING))
    return f"where it is wired, the vehicle does not give it {listing(missing, most=2)} as it needs it"


def _open(item: ItemResult) -> str:
    count = len(needs_of(item, Status.EXPECTED)) + len(item.questions)
    count += len(rows_of(item, CodingStatus.UNKNOWN))
    if not count:
        givers = unique(name for wait in item.waits for name, _ in wait.givers)
        return f"it hangs on {listing(givers) or 'another part of this job'}, which cannot be fitted yet"
    noun = "thing has" if count == 1 else "things have"
    return f"{count} {noun} to be checked on the vehicle or in its papers first"
