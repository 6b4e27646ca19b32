"""A search for a quantity as text and JSON."""

from __future__ import annotations

from typing import Any, Final

from netcheck.find import FoundField, Known, KnownKind, QuantityCandidate, QuantitySearch
from netcheck.report._draft import DraftFile, draft_json, write_draft
from netcheck.report._find import behind_json, field_json, span_json, write_behind
from netcheck.report._find_quantity_words import (
    SENSE_WORDS,
    borders_text,
    fit_text,
    known_text,
    quantity_next_text,
    range_text,
    scale_text,
)
from netcheck.report._find_words import place_text
from netcheck.report._page import Page, Style, StyledText
from netcheck.words import counted, listing

_SCHEMA: Final = "netcheck.find/1"
_MOST_ROWS: Final = 10
_GOOD: Final = 0.9
_INDENT: Final = 4
_COLUMN: Final = 9
_MOST_BYTES: Final = 4  # that are drawn


def quantity_text(
    search: QuantitySearch,
    *,
    width: int,
    colour: bool,
    verbose: bool = False,
    draft: DraftFile | None = None,
) -> str:
    """The candidates for people, ten at most. verbose: all, with what was put behind"""
    page = Page(width)
    page.text(
        f"{search.file}: {counted(search.frames, 'frame')} in {search.seconds:.1f} s, {search.role} by "
        f"{known_text(search.known)}"
    )
    if search.quiet:
        page.text(f"quiet: {listing(search.quiet)}")
    page.heading("Candidates")
    if not search.candidates:
        page.text("None: no field moved with it.")
    shown = search.candidates if verbose else search.candidates[:_MOST_ROWS]
    for number, each in enumerate(shown, 1):
        _write_row(page, number, each, search.unit)
    if len(shown) < len(search.candidates):
        page.text(f"and {len(search.candidates) - len(shown)} more; -v shows all")
    if shown:
        page.blank()
        page.text(
            "Score: how likely it is the quantity, from 0 to 1. It says what moves alike, not what the "
            "signal is for."
        )
    write_behind(page, search.behind, verbose=verbose)
    if draft is not None:
        write_draft(page, draft)
    page.heading("What to do next")
    page.entry("1.", quantity_next_text(search.next, search.about))
    return page.render(colour=colour)


def _write_row(page: Page, number: int, each: QuantityCandidate, unit: str) -> None:
    style = Style.GOOD if each.score >= _GOOD else Style.PLAIN
    page.blank()
    page.entry(
        f"{number}.", f"{each.score:.2f}  {each.field.channel}  {place_text(each.field)}", text_style=style
    )
    for line in _grid(each.field):
        page.raw(StyledText(" " * _INDENT + line))
    facts = [
        ("value", scale_text(each.scale, unit)),
        ("range", range_text(each, unit)),
        ("follows", fit_text(each, unit)),
        ("borders", borders_text(each)),
        ("sense", "; ".join(SENSE_WORDS[sense] for sense in each.sense)),
    ]
    facts += [
        ("quiet", f"moved over {share:.0%} of this range in {file}") for file, share in each.in_quiet.items()
    ]
    if each.copies:
        places = listing([f"{copy.channel} {place_text(copy)}" for copy in each.copies], most=4)
        facts.append(("alike", f"{places}: what is known cannot tell them apart"))
    for name, text in facts:
        if text:
            page.entry(name, text, indent=_INDENT, column=_COLUMN)


def _grid(field: FoundField) -> list[str]:
    """Its bytes with its bits, the most significant one of each on the left."""
    bits = set(field.bits)
    numbers = sorted({bit // 8 for bit in bits})[:_MOST_BYTES]
    return [
        f"byte {byte}  [{''.join('#' if 8 * byte + bit in bits else '.' for bit in range(7, -1, -1))}]"
        + "  bit 7 to 0" * (byte == numbers[0])
        for byte in numbers
    ]


def quantity_json(search: QuantitySearch, draft: DraftFile | None = None) -> dict[str, Any]:
    """The same for scripts, all candidates."""
    found = {
        "schema": _SCHEMA,
        "kind": "quantity",
        "file": search.file,
        "role": search.role,
        "unit": search.unit,
        "marks": [span_json(span) for span in _marks(search.known)],
        "known": None if search.known is None else _known_json(search.known),
        "independent_points": round(search.points, 1),
        "quiet": list(search.quiet),
        "separated": search.separated,
        "next": quantity_next_text(search.next, search.about),
        "next_kind": search.next.value,
        "candidates": [_candidate_json(each) for each in search.candidates],
        "behind": behind_json(search.behind),
    }
    return found if draft is None else {**found, "draft": draft_json(draft)}


def _marks(known: Known | None) -> tuple[tuple[float, float], ...]:
    return known.spans if known is not None and known.kind is KnownKind.MARKS else ()


def _known_json(known: Known) -> dict[str, Any]:
    found: dict[str, Any] = {"kind": known.kind.value, "unit": known.unit}
    if known.kind is KnownKind.SIGNAL:
        return {**found, "signal": known.source, "file": known.file}
    times, values = known.samples.times.tolist(), known.samples.values.tolist()
    return {**found, "points": [[round(a, 3), b] for a, b in zip(times, values, strict=True)]}


def _candidate_json(each: QuantityCandidate) -> dict[str, Any]:
    scale = each.scale
    return {
        **field_json(each.field),
        "order": each.field.order,
        "signed": each.field.is_signed,
        "kind": "quantity",
        "active": [],
        "inactive": [],
        "score": each.score,
        "scale": _digits(scale.scale),
        "scale_error": _digits(scale.scale_error),
        "usual_scale": scale.usual_scale,
        "offset": _digits(scale.offset),
        "offset_error": _digits(scale.offset_error),
        "least": _digits(each.low),
        "largest": _digits(each.high),
        "explained": round(each.fit, 4),
        "residual": _digits(each.residual),
        "lag_s": round(each.lag, 3),
        "unmoved_top_bits": each.unmoved,
        "bytes_beside": list(each.beside),
        "lowest_bit_changes": round(each.low_rate, 4),
        "highest_bit_changes": round(each.top_rate, 4),
        "border_odds": round(each.links, 2),
        "sense": [sense.value for sense in each.sense],
        "period_ms": round(1000 * each.period, 1),
        "in_quiet": {file: round(share, 3) for file, share in each.in_quiet.items()},
        "alike": round(each.alike, 4),
        "copies": [
            {**field_json(copy), "order": copy.order, "signed": copy.is_signed} for copy in each.copies
        ],
    }


def _digits(value: float) -> float:
    """Six significant digits."""
    return float(f"{value:.6g}")
