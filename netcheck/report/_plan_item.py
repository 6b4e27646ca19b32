"""One item of a plan: what stops it, what is not proven, what changes, what is fine – in this order."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from netcheck.coding import CodingRow, CodingStatus
from netcheck.records import dataclass
from netcheck.report._customer import customer_text
from netcheck.report._finding_words import finding_next, finding_text, wait_text
from netcheck.report._note_words import note_text
from netcheck.report._page import Page, Style
from netcheck.report._plan_words import (
    STATUS_SIGNS,
    STATUS_STYLES,
    VERDICT_SIGNS,
    VERDICT_STYLES,
    VERDICT_WORDS,
    WIDEST_NAME,
    rows_of,
    value_text,
)
from netcheck.report._reason_parts import Advice
from netcheck.report._reasons import STATUS_WORDS, advice, also_lines, peers_text, seen_text
from netcheck.verdict import (
    Conflict,
    ItemResult,
    NeedResult,
    Question,
    Reason,
    ResourceContested,
    Status,
    SupplyIdUnknown,
)
from netcheck.words import listing, unique

_BRIEF = frozenset({"Changes", "Optional, decides nothing", "Shown"})  # what stops nothing
MOST_NAMES = 4  # roles in one line of the short form


@dataclass(frozen=True)
class Entry:
    """One line of an item's part: sign and names, what was seen, and what to do about it.

    more: further lines under it, such as other reasons and the message
    """

    sign: str
    names: tuple[str, ...]
    text: str
    style: Style
    more: tuple[str, ...] = ()
    next: str = ""

    @property
    def lead(self) -> str:
        """What stands in the column of names."""
        return f"{self.sign} {', '.join(self.names)}"


@dataclass(frozen=True)
class Detail:
    """How much is said. exercises: those that the checklist has, and need not be said twice.

    short: what changes is named in one line, and only of what can be fitted; what is shown is left out
    """

    exercises: frozenset[str]
    verbose: bool
    short: bool = False


def write_item(page: Page, item: ItemResult, detail: Detail) -> None:
    """The item's heading and its groups."""
    where = f"on {item.network}" if item.network else "network not decided"
    verdict = f"{VERDICT_SIGNS[item.verdict]} {VERDICT_WORDS[item.verdict]}"
    page.heading(f"{item.retrofit} {where}: {verdict}", VERDICT_STYLES[item.verdict])
    if item.title != item.retrofit and not detail.short:
        page.text(item.title)
    page.text(f"For the customer: {customer_text(item)}")
    groups = [(title, _together(entries)) for title, entries in _groups(item, detail)]
    briefs = [group for group in groups if detail.short and group[0] in _BRIEF]
    groups = [group for group in groups if group not in briefs]
    leads = [len(entry.lead) for _, entries in groups for entry in entries if len(entry.names) == 1]
    column = min(max(leads, default=0), WIDEST_NAME) + 2
    for title, entries in groups:
        if entries:
            page.text(title, style=Style.STRONG)
            _write_entries(page, entries, column)
    if detail.short and item.verdict.is_fittable:
        changes = _changes(item)
        page.entry("Changes:", "; ".join(changes) if changes else "nothing", indent=2)
    elif not detail.short and not any(entries for _, entries in groups):
        page.text("Needs no signal, no coding and no module of the vehicle.", indent=2)
    for note in item.notes:
        if not detail.short or isinstance(note, ResourceContested):
            page.entry("Note:", f"{note_text(note)}.", indent=2)


def _changes(item: ItemResult) -> list[str]:
    """What changes, in short: the fields of each module, then the roles that come by another way."""
    later = [need.role for need in item.needs if need.status is Status.AFTER_CODING]
    given = [need for need in item.needs if need.reason is Reason.BY_ITEM]
    wired = [need.role for need in item.needs if need.reason is Reason.BY_WIRE]
    rows = rows_of(item, CodingStatus.TO_DO)
    fields = [f"{row.module}.{row.field} = {row.to}" for row in rows]
    return [
        *fields,
        *([f"{listing(later, most=MOST_NAMES)} after coding"] if later else []),
        *([_given(given)] if given else []),
        *([f"{listing(wired, most=MOST_NAMES)} by wire"] if wired else []),
    ]


def _given(needs: list[NeedResult]) -> str:
    names = unique(name for need in needs for name in need.facts.suppliers)
    return f"{listing([need.role for need in needs], most=MOST_NAMES)} from {listing(names)}"


def _together(entries: list[Entry]) -> list[Entry]:
    """Entries that say the same of several names become one; what is shown keeps a line each."""
    merged: dict[Entry, tuple[str, ...]] = {}
    for entry in entries:
        key = entry if entry.sign == "+" else replace(entry, names=())
        merged[key] = (*merged.get(key, ()), *entry.names)
    return [replace(entry, names=names) for entry, names in merged.items()]


def _write_entries(page: Page, entries: list[Entry], column: int) -> None:
    """The entries; where several in a row are to be treated alike, that is said once, after the last."""
    alike = 0
    for entry, following in zip(entries, [*entries[1:], None], strict=True):
        page.entry(entry.lead, entry.text, indent=2, column=column, style=entry.style)
        for line in entry.more:
            page.text(line, indent=2 + column)
        alike += 1
        if following is not None and following.next == entry.next:
            continue
        if entry.next:
            every = {1: "", 2: "(both) "}.get(alike, f"(all {alike}) ")
            page.entry("→", f"{every}{entry.next}", indent=2 + column)
        alike = 0


def _groups(item: ItemResult, detail: Detail) -> list[tuple[str, list[Entry]]]:
    def needs(*statuses: Status, optional: bool = False) -> list[Entry]:
        chosen = [need for need in item.needs if need.status in statuses and need.optional is optional]
        return [_need(need, detail) for need in chosen]

    def both(*statuses: Status) -> list[Entry]:
        return needs(*statuses) + needs(*statuses, optional=True)

    conflicts = [_finding("X", conflict.kind, conflict, Style.BAD) for conflict in item.conflicts]
    questions = [_finding("?", question.subject, question, Style.DOUBT) for question in item.questions]
    return [
        ("Blocked by", conflicts + needs(Status.MISSING)),
        (
            "Not proven yet",
            needs(Status.EXPECTED)
            + questions
            + [Entry("?", (wait.resource,), wait_text(wait), Style.DOUBT) for wait in item.waits]
            + _coding(rows_of(item, CodingStatus.UNKNOWN), "?"),
        ),
        (
            "Changes",
            both(Status.SUPPLIED, Status.AFTER_CODING) + _coding(rows_of(item, CodingStatus.TO_DO), "*"),
        ),
        ("Optional, decides nothing", needs(Status.MISSING, Status.EXPECTED, optional=True)),
        (
            "Shown",
            both(Status.SHOWN) + _coding(rows_of(item, CodingStatus.ALREADY), "+"),
        ),
    ]


def _finding(sign: str, name: str, finding: Conflict | Question, style: Style) -> Entry:
    todo = " ".join(finding_next(finding))
    text = finding_text(finding)
    if isinstance(finding, SupplyIdUnknown):  # the roles stand beside it, and are often many
        text = (
            f"{finding.supplier} supplies it to {finding.user}; its retrofit file does not say with which id"
        )
    return Entry(sign, (str(name),), text, style, next=todo)


def _need(need: NeedResult, detail: Detail) -> Entry:
    is_open = need.status.is_open and not need.optional
    more = [f"also {line}" for line in also_lines(need) if is_open or detail.verbose]
    if peers := peers_text(need):
        more.append(peers)
    if need.why and (is_open or detail.verbose):
        more.append(f"for: {need.why}")
    if detail.verbose:
        more.append(_signal(need))
    word = need.evidence if need.status is Status.SHOWN else STATUS_WORDS[need.status]
    is_idle = need.optional and need.status.is_open
    aside = "optional, " if need.optional and not is_idle else ""
    text = f"{aside}{word}: {seen_text(need)}"
    sign = "-" if is_idle else STATUS_SIGNS[need.status]
    style = Style.PLAIN if is_idle else STATUS_STYLES[need.status]
    todo = "" if need.optional and not detail.verbose else _next(advice(need), detail)
    return Entry(sign, (need.role,), text, style, tuple(more), todo)


def _next(todo: Advice, detail: Detail) -> str:
    """What to do; the exercise is left to the checklist where that has it."""
    if todo.exercise and todo.exercise in detail.exercises and not detail.verbose:
        return f"{todo.text} (see the checklist). {todo.after}".strip()
    return str(todo)


def _signal(need: NeedResult) -> str:
    """Where a need's signal is and what was asked of it."""
    place = f"{need.message}.{need.signal} on {need.network}" if need.message else "no signal mapped"
    gap = f", gaps up to {need.max_gap_ms:g} ms" if need.max_gap_ms is not None else ""
    return f"{place}; asks {need.asks}{gap}; {need.reason.value}"


def _coding(rows: Iterable[CodingRow], sign: str) -> list[Entry]:
    styles = {"?": Style.DOUBT, "*": Style.CHANGE, "+": Style.GOOD}
    return [Entry(sign, ("coding",), _row_text(row), styles[sign]) for row in rows]


def _row_text(row: CodingRow) -> str:
    place = f"{row.module} {row.did} {row.field}"
    unlock = f", unlocks {row.unlock}" if row.unlock else ""
    if row.status is CodingStatus.UNKNOWN:
        return f"{place} must be {row.to}{unlock}; the block was not read"
    if row.status is CodingStatus.ALREADY:
        return f"{place} is {row.to} already{unlock}"
    return f"{place}: {value_text(row.from_)} → {row.to}{unlock}"
