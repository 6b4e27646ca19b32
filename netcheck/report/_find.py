"""A search as text and JSON."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any, Final

from netcheck.find import FieldCandidate, FoundField, PutBehind, Search
from netcheck.report._draft import DraftFile, draft_json, write_draft
from netcheck.report._find_words import (
    BEHIND_WORDS,
    KIND_WORDS,
    NOTE_WORDS,
    hits_text,
    next_text,
    place_text,
    states_text,
    unasked_text,
)
from netcheck.report._page import Page, Style, StyledText
from netcheck.words import counted, listing

_SCHEMA: Final = "netcheck.find/1"
_MOST_ROWS: Final = 10
_LEAST_SCORE: Final = 0.0005
_GOOD: Final = 0.9
_INDENT: Final = 4
_COLUMN: Final = 9


def find_text(
    searches: Sequence[Search],
    *,
    width: int,
    colour: bool,
    verbose: bool = False,
    draft: DraftFile | None = None,
) -> str:
    """The candidates of each search for people, ten at most. verbose: all, with what was put behind"""
    page = Page(width)
    for number, search in enumerate(searches):
        if number:
            page.blank()
        write_search(page, search, verbose)
    if draft is not None:
        write_draft(page, draft)
    return page.render(colour=colour)


def write_search(page: Page, search: Search, verbose: bool) -> None:
    """One search."""
    asked = search.asked
    marks = counted(len(asked.active), "mark") if asked.active else "no mark"
    page.text(
        f"{search.file}: {counted(search.frames, 'frame')} in {asked.seconds:.1f} s, {marks} of {asked.role}"
    )
    if search.quiet:
        page.text(f"quiet: {listing(search.quiet)}")
    for text in note_texts(search):
        page.entry("!", text, style=Style.DOUBT)
    page.heading("Candidates")
    if not search.candidates:
        what = "nothing moved with the marks" if asked.active else "nothing moved only here"
        page.text(f"None: {what}.")
    shown = search.candidates if verbose else search.candidates[:_MOST_ROWS]
    for number, each in enumerate(shown, 1):
        _write_row(page, number, each, search)
    if len(shown) < len(search.candidates):
        page.text(f"and {len(search.candidates) - len(shown)} more; -v shows all")
    if shown:
        page.blank()
        page.text(
            "Score: how likely it is the role, from 0 to 1. It says what moves with the marks, not what the "
            "signal is for."
        )
    _write_behind(page, search, verbose)
    page.heading("What to do next")
    page.entry("1.", next_text(search.next))


def _write_row(page: Page, number: int, each: FieldCandidate, search: Search) -> None:
    style = Style.GOOD if each.score >= _GOOD else Style.PLAIN
    page.blank()
    page.entry(
        f"{number}.", f"{each.score:.2f}  {each.field.channel}  {place_text(each.field)}", text_style=style
    )
    facts = [("", KIND_WORDS[each.kind]), ("value", states_text(each))]
    facts += [("follows" if search.asked.active else "moved", hits_text(each, len(search.asked.active)))]
    if each.at_changes:
        facts.append(("sent", f"every {1000 * each.period:.0f} ms, and at once when it changes"))
    if each.unasked:
        facts.append(("extra", unasked_text(each)))
    for file, count in each.in_quiet.items():
        facts.append(("quiet", f"moved {counted(count, 'time')} in {file}"))
    if each.cause is not None:
        facts.append(("after", f"{place_text(each.cause.field)}, {each.cause.delay:.2f} s later"))
    if each.copies:
        facts.append(("copies", listing([f"{c.channel} {place_text(c)}" for c in each.copies], most=4)))
    if not each.field.is_presence:
        page.raw(StyledText(" " * _INDENT + grid(each.field)))
    for name, text in facts:
        if text:
            page.entry(name, text, indent=_INDENT, column=_COLUMN)


def candidate_text(each: FieldCandidate) -> str:
    """Where a candidate lies, and its values."""
    states = states_text(each)
    return f"{place_text(each.field)}: {states}" if states else place_text(each.field)


def grid(field: FoundField) -> str:
    """The byte with its bits, the most significant one on the left: ``byte 0 [..#.....]``."""
    drawn = "".join("#" if field.bit <= bit < field.bit + field.width else "." for bit in range(7, -1, -1))
    return f"byte {field.byte}  [{drawn}]  bit 7 to 0"


def _write_behind(page: Page, search: Search, verbose: bool) -> None:
    if not search.behind:
        return
    page.heading("Put behind")
    if verbose:
        for each in search.behind:
            page.entry(_bits(each), BEHIND_WORDS[each.reason], indent=2, column=28)
        return
    for count, words in behind_counts(search):
        page.entry(f"{count:,}", words, indent=2, column=6)


def behind_counts(search: Search) -> list[tuple[int, str]]:
    """How many fields moved and are no candidate, and why."""
    counts = Counter(each.reason for each in search.behind)
    return [(counts[reason], words) for reason, words in BEHIND_WORDS.items() if counts[reason]]


def note_texts(search: Search) -> list[str]:
    """What is to be known of the marks."""
    return [NOTE_WORDS[note] for note in search.asked.notes]


def _bits(each: PutBehind) -> str:
    bits = f"bit {each.low}" if each.low == each.high else f"bits {each.low}–{each.high}"
    return f"{each.channel} {each.frame_id} byte {each.byte} {bits}"


def find_json(searches: Sequence[Search], draft: DraftFile | None = None, file: str = "") -> dict[str, Any]:
    """The same for scripts, all candidates; several searches as a list."""
    if len(searches) == 1:
        found = _search_json(searches[0])
    else:
        found = {
            "schema": _SCHEMA,
            "file": file or searches[0].file,
            "searches": [_search_json(search) for search in searches],
        }
    return found if draft is None else {**found, "draft": draft_json(draft)}


def _search_json(search: Search) -> dict[str, Any]:
    asked = search.asked
    return {
        "schema": _SCHEMA,
        "file": search.file,
        "role": asked.role,
        "state": asked.state,
        "marks": [_span(span) for span in asked.active],
        "notes": [note.value for note in asked.notes],
        "quiet": list(search.quiet),
        "separated": search.separated,
        "next": next_text(search.next),
        "next_kind": search.next.kind.value,
        "candidates": [_candidate_json(each) for each in search.candidates],
        "behind": [
            {
                "channel": each.channel,
                "id": str(each.frame_id),
                "extended": each.frame_id.is_extended,
                "byte": each.byte,
                "bits": [each.low, each.high],
                "reason": each.reason.value,
            }
            for each in search.behind
        ],
    }


def _candidate_json(each: FieldCandidate) -> dict[str, Any]:
    return {
        **_field_json(each.field),
        "order": each.field.order,
        "signed": each.field.is_signed,
        "kind": each.kind.value,
        "active": list(each.active),
        "inactive": list(each.rest),
        "score": each.score,
        "marks_followed": each.followed,
        "edges_matched": each.matched,
        "edges": each.edges,
        "lag_s": round(each.lag, 3),
        "period_ms": round(1000 * each.period, 1),
        "at_changes": each.at_changes,
        "periods": [_span(span) for span in each.periods],
        "unasked": [_span(span) for span in each.unasked],
        "in_other_marks": each.in_others,
        "in_quiet": dict(each.in_quiet),
        "cause": None
        if each.cause is None
        else {**_field_json(each.cause.field), "delay_s": round(each.cause.delay, 3)},
        "copies": [_field_json(copy) for copy in each.copies],
    }


def _field_json(field: FoundField) -> dict[str, Any]:
    """A message itself has no byte and no bit."""
    return {
        "channel": field.channel,
        "id": str(field.frame_id),
        "extended": field.frame_id.is_extended,
        "byte": None if field.is_presence else field.byte,
        "bit": None if field.is_presence else field.bit,
        "width": field.width,
    }


def _span(span: tuple[float, float]) -> list[float]:
    return [round(span[0], 3), round(span[1], 3)]
