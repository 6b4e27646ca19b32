"""What modules reported after the coding, and which writes a capture shows."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from netcheck.coding import FaultChange, FaultCheck, ModuleChecks, Readback, WriteCheck, WriteContent
from netcheck.files import did_text
from netcheck.report._diagnostic_words import identifier_name, refusal_name, session_name, status_words
from netcheck.report._page import Page, Style
from netcheck.words import listing, spaced

FAULT_WORDS: Final[Mapping[FaultChange, tuple[str, Style]]] = {
    FaultChange.NEW: ("NEW", Style.BAD),
    FaultChange.GONE: ("gone", Style.GOOD),
    FaultChange.STILL: ("still", Style.DOUBT),
    FaultChange.UNCOMPARED: ("there", Style.DOUBT),
}
WRITTEN_WORDS: Final[Mapping[WriteContent, str]] = {
    WriteContent.PLANNED: "as planned",
    WriteContent.OLD: "the old bytes, which reverts the block",
    WriteContent.OTHER: "other bytes than planned",
    WriteContent.UNPLANNED: "a block that this job does not write",
}
OUTCOMES: Final[Mapping[bool | None, tuple[str, Style]]] = {
    True: ("accepted", Style.GOOD),
    False: ("REFUSED", Style.BAD),
    None: ("NO ANSWER", Style.DOUBT),
}


def module_checks(page: Page, found: ModuleChecks) -> None:
    """Faults, numbers and vehicle numbers; nothing where no module reported any."""
    if found.vins:
        page.heading("Modules of another vehicle", Style.BAD)
        for other in found.vins:
            page.entry("X", f"{other.module} tells {other.told}, the job is {other.wanted}", style=Style.BAD)
        page.text("A module from another vehicle may need more than coding. Find out where it came from.")
    if found.faults or found.unread:
        _faults(page, found)
    if found.numbers:
        page.heading("Numbers that changed", Style.DOUBT)
        for number in found.numbers:
            name = identifier_name(number.did) or "number"
            what = f"{number.module} {did_text(number.did)} {name}"
            page.entry("!", f"{what}: {number.before} → {number.after}", style=Style.DOUBT)
        page.text("Another part or other software than before may have another coding layout.")


def _faults(page: Page, found: ModuleChecks) -> None:
    page.heading("Fault codes")
    for change in FaultChange:
        for check in found.of(change):
            word, style = FAULT_WORDS[change]
            page.entry(word, fault_text(check), indent=2, column=11, style=style)
    if found.unread:
        text = f"faults of {listing(found.unread)} were read before and not after"
        page.entry("NOT READ", text, indent=2, column=11, style=Style.DOUBT)
    if found.of(FaultChange.NEW):
        page.text("Find the cause of each new fault before you clear it.")
    if found.of(FaultChange.UNCOMPARED):
        page.text("Faults that are there: nobody read this module's faults before the coding.")


def fault_text(check: FaultCheck) -> str:
    """``airbag U014087: confirmed (0x08)``."""
    text = f"{check.module} {check.fault.code}"
    status = check.fault.status
    return text if status is None else f"{text}: {', '.join(status_words(status))} (0x{status:02X})"


def seen_writes(page: Page, back: Readback) -> None:
    """Writes as seen; nothing where the readout was no capture, or has none."""
    if not back.writes:
        return
    page.heading("Writes seen in the capture")
    for check in back.writes:
        word, style = OUTCOMES[check.accepted]
        page.entry(word, write_text(check), indent=2, column=11, style=style)


def write_text(check: WriteCheck) -> str:
    """What was written when, why it was refused, in which session, and whether it was planned."""
    at = f" at {check.time:.3f} s" if check.time is not None else ""
    why = f", {refusal_name(check.code)}" if check.code is not None else ""
    return (
        f"{check.module} {check.did}{at}: {spaced(check.data)}{why}, {session_name(check.session)}; "
        f"{WRITTEN_WORDS[check.what]}"
    )


def modules_json(checks: ModuleChecks) -> dict[str, Any]:
    """The same for scripts."""
    return {
        "faults": [
            {
                "module": check.module,
                "code": check.fault.code,
                "status": None if check.fault.status is None else f"0x{check.fault.status:02X}",
                "change": check.change.value,
            }
            for check in checks.faults
        ],
        "faults_unread": list(checks.unread),
        "numbers": [
            {"module": n.module, "did": did_text(n.did), "before": n.before, "after": n.after}
            for n in checks.numbers
        ],
        "other_vins": [{"module": v.module, "told": v.told, "wanted": v.wanted} for v in checks.vins],
    }


def write_json(check: WriteCheck) -> dict[str, Any]:
    """A write as seen."""
    return {
        "module": check.module,
        "did": check.did,
        "data": check.data,
        "what": check.what.value,
        "accepted": check.accepted,
        "code": None if check.code is None else f"0x{check.code:02X}",
        "session": None if check.session is None else f"0x{check.session:02X}",
        "file": check.file,
        "time": check.time,
    }
