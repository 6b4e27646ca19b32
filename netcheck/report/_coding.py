"""The coding report: what to write, from old to new and back, and what a later readout holds."""

from __future__ import annotations

from netcheck.coding import (
    BlockCheck,
    CodingRow,
    CodingStatus,
    FaultChange,
    FieldCheck,
    Held,
    Readback,
    Write,
)
from netcheck.plan import Plan
from netcheck.report._coding_case import CodingCase
from netcheck.report._coding_modules import module_checks, seen_writes
from netcheck.report._coding_words import AFTER_WRITING, BEFORE_WRITING, HELD_WORDS, TO_REVERT
from netcheck.report._finding_words import finding_next, finding_text
from netcheck.report._page import Page, Style
from netcheck.report._states import change_place, change_text, write_states
from netcheck.words import command_line, counted, listing, sentence, spaced, unique


def coding_text(case: CodingCase, *, width: int = 80, colour: bool = False) -> str:
    """The report as text for people.

    width: columns, no line is longer; less than 40 counts as 40
    colour: with ANSI escape sequences; without them the text is the same
    """
    page = Page(width)
    _head(page, case)
    _readback(page, case)
    _stops(page, case)
    _writes(page, case)
    _unknown(page, case)
    _already(page, case)
    _afterwards(page, case)
    return page.render(colour=colour)


def _head(page: Page, case: CodingCase) -> None:
    page.text(f"Coding for {case.plan.job}: {case.plan.vehicle}, model year {case.plan.model_year}")
    words, style = _summary(case) if case.readback is None else _held(case.readback)
    page.blank()
    page.text(words, style=style)


def _summary(case: CodingCase) -> tuple[str, Style]:
    counts = {status: len(_by_value(case.plan, status)) for status in CodingStatus}
    if not any(counts.values()):
        return "NOTHING TO CODE: no part of this job needs coding.", Style.GOOD
    parts = []
    writes = case.plan.writes
    held = sum(bool(case.withheld(write)) for write in writes)
    if writes:
        some = "held back" if held == len(writes) else f"{held} of them held back"
        parts.append(f"{counted(len(writes), 'block')} to write" + (f", {some}" if held else ""))
    if counts[CodingStatus.UNKNOWN]:
        parts.append(f"{counted(counts[CodingStatus.UNKNOWN], 'present value')} unknown")
    if counts[CodingStatus.ALREADY]:
        there = counts[CodingStatus.ALREADY]
        parts.append(f"{counted(there, 'value')} {'is' if there == 1 else 'are'} already there")
    text = ", ".join(parts)
    if case.is_stopped:
        return f"BLOCKED: {text or 'nothing can be written'}; first resolve what blocks it.", Style.BAD
    if held and held == len(writes):
        return f"NOT YET: {text}.", Style.DOUBT
    if case.is_unknown:
        return f"NOT ALL KNOWN: {text}.", Style.DOUBT
    return (f"TO DO: {text}.", Style.CHANGE) if case.plan.writes else (f"DONE: {text}.", Style.GOOD)


def _by_value(plan: Plan, status: CodingStatus) -> list[tuple[CodingRow, str]]:
    """One row for each wanted value of this status, with the names of the items that want it."""
    found: dict[tuple[str, str, str | int], tuple[CodingRow, list[str]]] = {}
    for item in plan.items:
        for row in item.coding:
            if row.status is status:
                found.setdefault((row.module, row.field, row.to), (row, []))[1].append(item.retrofit)
    return [(row, listing(unique(names))) for row, names in found.values()]


def _stops(page: Page, case: CodingCase) -> None:
    said = unique(
        " ".join((sentence(finding_text(conflict)), *finding_next(conflict)))
        for _, conflict in case.conflicts()
    )
    if said:
        page.heading("Blocked by", Style.BAD)
        for text in said:
            page.entry("X", text, style=Style.BAD)


# ------------------------------------------------------------------------------ what to write


def _writes(page: Page, case: CodingCase) -> None:
    writes = case.plan.writes
    if not writes:
        return
    if not case.holds:
        page.heading("Before you write")
        for caution in BEFORE_WRITING:
            page.entry("!", caution, style=Style.DOUBT)
    to_write = "To write, in this order" if len(writes) > 1 else "To write"
    page.heading("As written, with the bytes to revert to" if case.holds else to_write)
    page.text("Bytes count from 0; bit 0 is the least significant of its byte.")
    for number, write in enumerate(writes, 1):
        page.blank()
        page.entry(f"{number}. {case.place(write.module)}", f"block {write.did}", style=Style.STRONG)
        if case.order_reason(write):
            page.text(case.order_reason(write), indent=2)
        for text in case.withheld(write):
            page.entry("!", text, indent=2, style=Style.BAD)
        write_states(page, ("old, to revert", write.before), ("new", write.after))
        _changes(page, case, write)


def _changes(page: Page, case: CodingCase, write: Write) -> None:
    before, after = bytes.fromhex(write.before), bytes.fromhex(write.after)
    for change in case.changes(write.module, write.did, before, after):
        page.entry(f"{change_place(change)}:", change_text(change, before, after), indent=2)
        for text in case.wanted_by(write, change):
            page.text(text, indent=4)


def _unknown(page: Page, case: CodingCase) -> None:
    rows = _by_value(case.plan, CodingStatus.UNKNOWN)
    if not rows or case.readback is not None:
        return
    page.heading("Read first: the present value is unknown")
    for row, names in rows:
        text = f"{row.field} should become {row.to}, for {names}"
        page.entry(f"? {case.place(row.module)} {row.did}:", text, style=Style.DOUBT)
    page.text("Put each block into the job file as a [[readout]] and run this again to see the bytes.")


def _already(page: Page, case: CodingCase) -> None:
    rows = _by_value(case.plan, CodingStatus.ALREADY)
    if not rows:
        return
    page.heading("Already there")
    for row, names in rows:
        page.entry(
            f"+ {case.place(row.module)} {row.did}:",
            f"{row.field} is {row.to}, for {names}",
            style=Style.GOOD,
        )


def _afterwards(page: Page, case: CodingCase) -> None:
    if not case.plan.writes:
        return
    page.heading("Afterwards")
    page.entry("-", AFTER_WRITING)
    if case.readback is None:
        command = command_line("coding", case.job.file or "JOB", "--readback")
        page.entry(
            "-",
            f"Read the blocks again into a readouts file and compare: {command} FILE",
        )
    page.entry("-", TO_REVERT)


# ------------------------------------------------------------------------------ what a later readout holds


def _readback(page: Page, case: CodingCase) -> None:
    back = case.readback
    if back is None:
        return
    page.heading(f"Read back: {case.source}")
    for check in back.fields:
        word, colour = HELD_WORDS[check.status]
        page.entry(word, _check_text(case, check), indent=2, column=11, style=colour)
    for block in back.blocks:
        _foreign(page, case, block)
    _advice(page, back)
    seen_writes(page, back)
    module_checks(page, back.modules)


def _advice(page: Page, back: Readback) -> None:
    if any(block.foreign for block in back.blocks):
        page.text("Do not go on: find out why other bits changed, or revert the block and read it again.")
    elif any(check.status is Held.DIFFERS for check in back.fields):
        page.text("Do not go on: write the whole block again or revert it, then read it again.")
    elif back.is_unsure:
        page.text("Read what is missing before you call the job done.")


def _held(back: Readback) -> tuple[str, Style]:
    """What the comparison comes to."""
    text = _held_words(back)
    if back.is_wrong:
        return f"DOES NOT HOLD: {text}", Style.BAD
    return (f"NOT ALL KNOWN: {text}", Style.DOUBT) if back.is_unsure else (f"HOLDS: {text}", Style.GOOD)


def _held_words(back: Readback) -> str:
    holds = sum(check.status is Held.HOLDS for check in back.fields)
    if not back.fields:
        text = "this job codes nothing"
    else:
        text = f"{holds} of {counted(len(back.fields), 'wanted value')} {'holds' if holds == 1 else 'hold'}"
    new = len(back.modules.of(FaultChange.NEW))
    faults = f" {counted(new, 'new fault')} {'is' if new == 1 else 'are'} stored." if new else ""
    faults += " A module belongs to another vehicle." if back.modules.vins else ""
    if any(block.foreign for block in back.blocks):
        return f"{text}; other bits changed too.{faults}"
    if any(block.expected is None for block in back.blocks):
        return f"{text}; for some blocks nothing tells whether other bits changed.{faults}"
    if not back.blocks:
        return f"{text}.{faults}"
    return f"{text}; no other bit changed in the blocks that were read.{faults}"


def _check_text(case: CodingCase, check: FieldCheck) -> str:
    where = " ".join(part for part in (check.module, check.did, check.field) if part)
    if check.status is Held.HOLDS:
        return f"{where} is {check.found}"
    if check.status is Held.DIFFERS:
        return f"{where} should be {check.wanted}, is {check.found}"
    if check.status is Held.UNREAD:
        return f"{where} should be {check.wanted}; the readout lacks this block"
    return f"{where} should be {check.wanted}; the vehicle file has no such field for {case.plan.model_year}"


def _foreign(page: Page, case: CodingCase, block: BlockCheck) -> None:
    """What changed in a block besides the wanted fields, with the bytes that would undo it."""
    if block.expected is None:
        text = "no earlier readout says what the other bits of this block were"
        page.entry(f"? {block.module} {block.did}:", text, indent=2, style=Style.DOUBT)
    if block.expected is None or not block.foreign:
        return
    page.blank()
    page.entry(
        f"X {block.module} {block.did}:",
        "bits changed that this job does not change",
        indent=2,
        style=Style.BAD,
    )
    write_states(page, ("expected", block.expected), ("read", block.found))
    expected, found = bytes.fromhex(block.expected), bytes.fromhex(block.found)
    for change in block.foreign:
        page.entry(f"{change_place(change)}:", change_text(change, expected, found), indent=2)
    back = next((w for w in case.plan.writes if (w.module, w.did) == (block.module, block.did)), None)
    if back is not None:
        page.entry("to revert the whole block:", spaced(back.before), indent=2)
