"""A draft: comments in its DBC, entries in its vehicle file, and what is said of both."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

from netcheck.database import SignalAddition
from netcheck.find import DraftChange, DraftedRole, DraftKind, QuantityCandidate
from netcheck.records import dataclass
from netcheck.report._find_quantity_words import fit_text, line_text, scale_text, top_text
from netcheck.report._find_words import hits_text, place_text, states_text, unasked_text
from netcheck.report._page import Page, Style
from netcheck.report._role_entries import comment, toml_key, toml_text
from netcheck.words import listing, path_text

DRAFT_WORDS: Final[Mapping[DraftKind, str]] = {
    DraftKind.ADDED: "added as {place}, active: {active}",
    DraftKind.THERE: "is there already, as found here: {place}, active: {active}",
    DraftKind.NOT_CLEAR: "not written: no candidate stands clear",
    DraftKind.NO_SIGNAL: (
        "not written: it is the message itself, {field}, that comes only while active: no bit of it"
    ),
    DraftKind.ELSEWHERE: (
        "conflict: the draft has it as {place}, this capture shows {field}. Nothing was changed: record it "
        "once more, then correct the entry by hand"
    ),
    DraftKind.BITS_TAKEN: (
        "conflict: bits of {field} are taken{place}{other}. Nothing was changed: record both in one capture, "
        "one after the other, with marks for both"
    ),
    DraftKind.OTHER_SCALE: (
        "conflict: the draft has it as {place} with {line}, this capture shows {fitted}. Nothing was "
        "changed: record it once more, then correct the DBC by hand"
    ),
    DraftKind.OTHER_NETWORK: (
        "conflict: {field} is on {channel}, where no message of this draft comes. A draft is of one network: "
        "name another file for it"
    ),
}
_QUANTITY_WORDS: Final[Mapping[DraftKind, str]] = {
    DraftKind.ADDED: "added as {place}: {line}",
    DraftKind.THERE: "is there already, as found here: {place}: {line}",
}
_SIGNS: Final = {DraftKind.ADDED: "+", DraftKind.THERE: "="}


@dataclass(frozen=True)
class DraftFile:
    """A draft that was extended, and where. network: its name in the vehicle file"""

    dbc: Path
    vehicle: Path
    network: str
    capture: str
    change: DraftChange


def with_comments(change: DraftChange, capture: str) -> tuple[SignalAddition, ...]:
    """Its signals with the evidence as comments."""
    told: dict[tuple[str, str], list[str]] = {}
    for each in change.roles:
        if each.kind is DraftKind.ADDED and each.place is not None:
            told.setdefault(each.place, []).append(f"{each.role}: {_evidence(each, capture)}.")
    found = []
    where = f"Seen in {Path(capture).name}. Name and signals: drafted by netcheck find."
    for signal in change.signals:
        said = told.get((signal.message, signal.name), [])
        found.append(replace(signal, comment=" ".join(said), message_comment=where))
    return tuple(found)


def _evidence(role: DraftedRole, capture: str) -> str:
    """``found in x.log on can0: score 0.98, 1 while marked, 0 otherwise; 3 of 3 marks, 6 of 6 edges``."""
    best = role.found
    if best is None:
        return ""
    found = (
        f"found in {Path(capture).name} on {best.field.channel} at {place_text(best.field)}: "
        f"score {best.score:.2f}"
    )
    if isinstance(best, QuantityCandidate):
        return f"{found}; {'; '.join(_quantity_evidence(best, role.unit))}"
    extra = f"; {unasked_text(best)}" if best.unasked else ""
    return f"{found}, {states_text(best)}; {hits_text(best, role.marks)}{extra}"


def _quantity_evidence(best: QuantityCandidate, unit: str) -> Iterator[str]:
    yield f"fitted: {scale_text(best.scale, unit)}"
    yield fit_text(best, unit)
    if best.unmoved:
        yield top_text(best)
    if best.copies:
        yield f"alike: {listing([f'{copy.channel} {place_text(copy)}' for copy in best.copies], most=4)}"


def draft_vehicle_text(name: str, network: str, dbc: str) -> str:
    """The beginning of a vehicle file for a draft: it loads, and asks what nobody said."""
    return "\n".join(_head(name, network, dbc)) + "\n"


def _head(name: str, network: str, dbc: str) -> Iterator[str]:
    yield from comment("Each line that begins with '# decide' is a question. Answer it, then take it out.")
    yield from comment(
        "Roles are what followed marks in captures, as the comments say. Confirm each with a second one."
    )
    yield from ("", 'kind = "vehicle"', "format = 1")
    yield from comment("decide: which model of vehicle is it?")
    yield f"name = {toml_text(name)}"
    yield from comment("decide: which model years are alike?")
    yield "model_years = [1990, 2099]"
    yield ""
    yield from comment("decide: which bit rate has it? 500 kbit/s is only usual.")
    yield f"[network.{toml_key(network)}]"
    yield "bitrate = 500_000"
    yield f"dbc = {toml_text(dbc)}"
    yield from comment("decide: where can a technician reach it?")
    yield '# tap = "connector, pins (high) and (low)"'


def draft_entries(change: DraftChange, network: str, capture: str) -> str:
    """The entries of what was added."""
    blocks = [_entry(each, network, capture) for each in change.roles if each.kind is DraftKind.ADDED]
    return "".join("\n" + "\n".join(lines) + "\n" for lines in blocks)


def _entry(role: DraftedRole, network: str, capture: str) -> Iterator[str]:
    yield from comment(_evidence(role, capture))
    message, signal = role.place or ("", "")
    yield f"[[role.{toml_key(role.role)}]]"
    yield f"network = {toml_text(network)}"
    yield f"message = {toml_text(message)}"
    yield f"signal = {toml_text(signal)}"
    if role.active:
        yield f"active = [{', '.join(map(str, role.active))}]"


def write_draft(page: Page, draft: DraftFile) -> None:
    """What became of each role."""
    page.heading("Draft")
    page.entry("DBC", path_text(draft.dbc), indent=2, column=9)
    page.entry("vehicle", path_text(draft.vehicle), indent=2, column=9)
    column = min(max(len(each.role) for each in draft.change.roles) + 4, 30)
    for each in draft.change.roles:
        style = Style.GOOD if not each.is_conflict else Style.DOUBT
        sign = _SIGNS.get(each.kind, "!")
        page.entry(f"{sign} {each.role}", drafted_text(each), indent=2, column=column, style=style)


def drafted_text(role: DraftedRole) -> str:
    """What became of a role."""
    best = role.found
    place = ".".join(role.place or ())
    if role.kind is DraftKind.BITS_TAKEN:
        place = f" by {place}" if place else ""
    is_quantity = isinstance(best, QuantityCandidate)
    words = {**DRAFT_WORDS, **_QUANTITY_WORDS} if is_quantity else DRAFT_WORDS
    return words[role.kind].format(
        place=place,
        active=", ".join(map(str, role.active)),
        field=place_text(best.field) if best else "",
        channel=best.field.channel if best else "",
        other=f" for {role.other}" if role.other else "",
        line=line_text(role.scale, role.offset, role.unit),
        fitted=scale_text(best.scale, role.unit) if isinstance(best, QuantityCandidate) else "",
    )


def draft_json(draft: DraftFile) -> dict[str, Any]:
    """The same for scripts."""
    return {
        "dbc": str(draft.dbc),
        "vehicle": str(draft.vehicle),
        "network": draft.network,
        "roles": [
            {
                "role": each.role,
                "result": each.kind.value,
                "message": each.place[0] if each.place else None,
                "signal": each.place[1] if each.place else None,
                "active": list(each.active),
                "other": each.other or None,
                "scale": each.scale,
                "offset": each.offset,
                "unit": each.unit or None,
                "text": drafted_text(each),
            }
            for each in draft.change.roles
        ],
    }


def draft_conflicts(roles: Sequence[DraftedRole]) -> bool:
    """Whether a person has to decide on any."""
    return any(each.is_conflict for each in roles)
