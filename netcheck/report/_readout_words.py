"""All words of the readout's findings: what it is, and what to do."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from netcheck.diagnostics import Lapse, ReadoutFinding, ReadoutFindingKind, VinFacts
from netcheck.report._diagnostic_words import identifier_name, service_name
from netcheck.words import counted, listing

LAPSES: Final[Mapping[Lapse, str]] = {
    Lapse.NO_FIRST_FRAME: "its first frame is not in the capture",
    Lapse.WRONG_SEQUENCE: "a frame of it was lost, doubled or out of turn",
    Lapse.SHORT_FRAME: "a frame of it is too short",
    Lapse.BAD_LENGTH: "the length that it announces cannot be",
    Lapse.OVERLAPPED: "another message began before it was complete",
    Lapse.REFUSED: "the receiver had no room for it",
    Lapse.TIMED_OUT: "more than a second passed without a frame of it",
    Lapse.CUT_OFF: "the capture ends before it does",
    Lapse.TOO_LONG: "it announces more bytes than a readout has",
}


def _service(finding: ReadoutFinding) -> str:
    return "a message" if finding.service is None else service_name(finding.service)


def _about(finding: ReadoutFinding) -> str:
    """``read (0x22) of 0x2210``."""
    return _service(finding) + (f" of 0x{finding.did:04X}" if finding.did is not None else "")


def _lost(finding: ReadoutFinding) -> str:
    why = LAPSES[finding.lapse] if finding.lapse is not None else "it is not whole"
    got = f", {finding.found} of {finding.due} bytes came" if finding.due else ""
    return f"{_service(finding)} could not be put together: {why}{got}. Nothing was taken from it"


def _length(finding: ReadoutFinding) -> str:
    if finding.did is not None:
        name = identifier_name(finding.did)
        what = f"0x{finding.did:04X}" + (f" ({name})" if name else "")
        return f"{what} has {counted(finding.found or 0, 'byte')} where {finding.due} are due; it is left out"
    due = f" where {finding.due} are due" if finding.due else ", which cannot be"
    return f"{_service(finding)}: a message of {counted(finding.found or 0, 'byte')}{due}; it is left out"


WORDS: Final[Mapping[ReadoutFindingKind, Callable[[ReadoutFinding], str]]] = {
    ReadoutFindingKind.SEGMENT_LOST: _lost,
    ReadoutFindingKind.NO_ANSWER: lambda f: f"no answer to {_about(f)}",
    ReadoutFindingKind.ANSWER_ALONE: lambda f: (
        f"an answer to {_service(f)} without the request. It was not used: record the whole conversation"
    ),
    ReadoutFindingKind.SECOND_ANSWER: lambda f: (
        f"a second answer to one request, {_service(f)}. Only the first was used: two modules may share "
        "this address"
    ),
    ReadoutFindingKind.STRANGE_SERVICE: lambda f: (
        f"a message that begins with 0x{f.service or 0:02X}, which is no diagnostic service; it is left out"
    ),
    ReadoutFindingKind.WRONG_LENGTH: _length,
    ReadoutFindingKind.NOT_SPLIT: lambda f: (
        "an answer with several identifiers: where one ends cannot be told. Read each of them alone"
    ),
    ReadoutFindingKind.REPORT_NOT_READ: lambda f: (
        f"a fault report of kind 0x{f.names[0]}, which netcheck does not read"
    ),
    ReadoutFindingKind.SHARED_ADDRESS: lambda f: (
        f"the vehicle file has {listing(f.names)} on these addresses: none of them was named"
    ),
    ReadoutFindingKind.VIN_CHANGED: lambda f: (
        f"the vehicle number changed while it was read: {listing(f.names)}. Is this one vehicle?"
    ),
    ReadoutFindingKind.VIN_DIFFERS: lambda f: (
        f"modules tell different vehicle numbers: {listing(f.names)}. A module may come from another vehicle"
    ),
    ReadoutFindingKind.LINE_NOT_READ: lambda f: "a line that cannot be read; it is left out",
}


def vin_text(facts: VinFacts) -> str:
    """What a vehicle number tells of itself, a sentence; a hint where its region does not bind makers."""
    check = "the check digit fits" if facts.has_check else "the check digit does not fit"
    years = (
        f"model year {listing([str(year) for year in facts.years], last='or')}"
        if facts.years
        else ("no model-year letter")
    )
    if facts.is_bound:
        return f"{check}; {years}."
    return f"Hint: {check}; {years}, if the maker uses them (49 CFR 565 does not hold here)."


def readout_finding_text(finding: ReadoutFinding) -> str:
    """What a finding says, a sentence without its place."""
    return WORDS[finding.kind](finding)


def finding_place(finding: ReadoutFinding) -> str:
    """``at 12.304 s, line 1204, and 3 more``; "" where it has no place."""
    parts = []
    if finding.time is not None:
        parts.append(f"at {finding.time:.3f} s")
    if finding.line is not None:
        parts.append(f"line {finding.line}")
    elif finding.frame is not None:
        parts.append(f"frame {finding.frame:,}")
    more = f", and {finding.count - 1:,} more" if finding.count > 1 else ""
    return ", ".join(parts) + (more if parts else "")
