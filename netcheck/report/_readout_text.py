"""The readout for people."""

from __future__ import annotations

from netcheck.coding import VIN_IDS
from netcheck.diagnostics import FaultRead, ModuleReading, ReadoutFinding, SeenWrite, vin_facts
from netcheck.report._diagnostic_words import (
    identifier_name,
    refusal_name,
    service_name,
    session_name,
    status_words,
)
from netcheck.report._page import Page, Style
from netcheck.report._readout_case import ReadoutCase
from netcheck.report._readout_words import finding_place, readout_finding_text, vin_text
from netcheck.report._states import write_bytes, write_states
from netcheck.words import counted, listing, sentence


def readout_text(case: ReadoutCase, *, width: int = 80, colour: bool = False) -> str:
    """The readout as text for people.

    width: columns, no line is longer; less than 40 counts as 40
    colour: with ANSI escape sequences; without them the text is the same
    """
    page = Page(width)
    readout = case.readout
    page.text(f"Readout of {listing(readout.files, most=3)}")
    page.blank()
    page.text(_summary(case), style=Style.GOOD if readout.modules else Style.DOUBT)
    if not readout.modules:
        page.text(
            "netcheck looks at the ids of the vehicle file and at those that are customary for diagnostics "
            "(ISO 15765). Record while your equipment reads the modules, at the diagnostic connector."
        )
    for module in readout.modules:
        _module(page, case, module)
    _findings(page, "In all", readout.findings)
    return page.render(colour=colour)


def _summary(case: ReadoutCase) -> str:
    modules = case.readout.modules
    if not modules:
        return "NO CONVERSATION: no module was asked anything."
    texts = [module for module in modules if module.answered or not module.asked]
    blocks = sum(len(module.blocks) for module in modules)
    faults = [module.faults.last for module in modules if module.faults.last is not None]
    stored = sum(fault.fault.is_stored for report in faults for fault in report)
    parts = [
        f"{counted(len(texts), 'module')} answered"
        if case.readout.modules[0].channel
        else counted(len(texts), "module"),
        f"{counted(blocks, 'block')} read",
        f"{counted(stored, 'fault')} stored" if faults else "no fault report",
    ]
    silent = len(modules) - len(texts)
    return f"{', '.join(parts)}" + (f", {counted(silent, 'module')} silent." if silent else ".")


def _module(page: Page, case: ReadoutCase, module: ModuleReading) -> None:
    page.heading(case.title(module))
    if not module.answered and module.asked:
        page.entry("?", f"did not answer {counted(module.asked, 'request')}", style=Style.DOUBT)
    for text in module.identification:
        name = identifier_name(text.did)
        lead = f"0x{text.did:04X}" + (f" {name}" if name else "")
        changed = f"{text.before}, after the write {text.after}"
        both = text.before is not None and text.after is not None and text.before != text.after
        page.entry(f"{lead}:", changed if both else text.last)
        facts = vin_facts(text.last) if text.did in VIN_IDS else None
        if facts is not None:
            page.text(vin_text(facts), indent=2)
    for block in module.blocks:
        _block(page, case, module, block.did, block.before, block.after)
    _faults(page, module)
    if module.lamp is not None:
        lamp = "on" if module.lamp.is_on else "off"
        page.entry("fault lamp:", f"{lamp}, {counted(module.lamp.stored, 'fault')} counted (mode 01)")
    for write in module.writes:
        _write(page, case, module, write)
    for seen in module.services:
        what = service_name(seen.service)
        if seen.function is not None:
            what += f", 0x{seen.function:02X}"
        outcomes = [
            f"{count} {word}"
            for count, word in (
                (seen.accepted, "accepted"),
                (seen.refused, "refused"),
                (seen.unanswered, "unanswered"),
            )
            if count
        ]
        page.entry("seen:", f"{what}: {', '.join(outcomes)}")
    for refusal in module.refusals:
        about = f" of 0x{refusal.did:04X}" if refusal.did is not None else ""
        times = f", {refusal.count} times" if refusal.count > 1 else ""
        page.entry(
            "refused:",
            f"{service_name(refusal.service)}{about}: {refusal_name(refusal.code)}{times}",
            style=Style.DOUBT,
        )
    _findings(page, "", module.findings)


def _block(
    page: Page,
    case: ReadoutCase,
    module: ModuleReading,
    did: int,
    before: bytes | None,
    after: bytes | None,
) -> None:
    last = after if after is not None else before
    if last is None:
        return
    first = before if before is not None else last
    if first != last and len(first) == len(last):
        page.text(f"block 0x{did:04X}, before the write and after it:")
        write_states(page, ("before", first.hex().upper()), ("after", last.hex().upper()))
    elif first != last:
        write_bytes(page, f"block 0x{did:04X} before the write:", first)
        write_bytes(page, f"block 0x{did:04X} after it:", last)
    else:
        write_bytes(page, f"block 0x{did:04X}:", last)
    old = dict(case.fields(module, did, first))
    for name, value in case.fields(module, did, last):
        change = f"{old[name]} → {value}" if old[name] != value else f"{value}"
        page.entry(f"{name}:", change, indent=2)


def _faults(page: Page, module: ModuleReading) -> None:
    report = module.faults.last
    if report is None:
        return
    stored = [fault for fault in report if fault.fault.is_stored]
    if not stored:
        page.entry("+", "no fault stored", style=Style.GOOD)
    for fault in stored:
        page.entry(f"fault {fault.fault.code}:", _fault_text(fault), style=Style.DOUBT)
    idle = len(report) - len(stored)
    if idle:
        codes = listing([fault.fault.code for fault in report if not fault.fault.is_stored], most=6)
        page.entry("-", f"{counted(idle, 'code')} reported without a fault: {codes}")


def _fault_text(fault: FaultRead) -> str:
    if fault.kind:
        return fault.kind
    status = fault.fault.status
    if status is None:
        return "status not known"
    return f"{', '.join(status_words(status))} (0x{status:02X})"


def _write(page: Page, case: ReadoutCase, module: ModuleReading, write: SeenWrite) -> None:
    outcome = {True: "accepted", False: "refused", None: "no answer seen"}[write.accepted]
    if write.code is not None:
        outcome += f", {refusal_name(write.code)}"
    at = f" at {write.time:.3f} s" if write.time is not None else ""
    page.entry(
        f"write 0x{write.did:04X}{at}:", f"{outcome}, {session_name(write.session)}", style=Style.CHANGE
    )
    write_bytes(page, " ", write.data)
    for name, value in case.fields(module, write.did, write.data):
        page.entry(f"{name}:", f"{value}", indent=2)


def _findings(page: Page, heading: str, findings: tuple[ReadoutFinding, ...]) -> None:
    if findings and heading:
        page.heading(heading)
    for finding in findings:
        place = finding_place(finding)
        text = sentence(readout_finding_text(finding))
        page.entry("!", f"{place}: {text}" if place else text, style=Style.DOUBT)
