"""The page of a search for one role or several: candidates under the marks, on one scale of time."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any, Final

from markupsafe import Markup

from netcheck.find import Search
from netcheck.page._document import REPORT_SCHEMA, render
from netcheck.report.finding import behind_counts, candidate_text, find_json, hits_text, note_texts
from netcheck.words import counted

MOST: Final = 40  # candidates that are drawn
WIDTH: Final = 600.0  # of a line of time, in its own units
HEIGHT: Final = 26.0
_TICKS: Final = (1, 2, 5)

Spans = Iterable[tuple[float, float]]


def find_page(searches: Sequence[Search]) -> str:
    """The page of searches in one capture as HTML, role by role; the best candidates first."""
    first = searches[0]
    roles = counted(len(searches), "role")
    values = {
        "title": first.asked.role if len(searches) == 1 else roles,
        "file": Path(first.file).name,  # a page is passed on: no folders of this computer
        "frames": first.frames,
        "seconds": first.asked.seconds,
        "quiet": [Path(file).name for file in first.quiet],
        "searches": [_search(search) for search in searches],
        "scale": _scale(first.asked.seconds or 1.0),
    }
    return render("find.html.j2", {}, values, ["sort"])


def find_report_json(searches: Sequence[Search]) -> dict[str, Any]:
    """The same for scripts."""
    return {"schema": REPORT_SCHEMA, "find": find_json(searches)}


def _search(search: Search) -> dict[str, Any]:
    told = find_json([search])
    seconds = search.asked.seconds or 1.0
    marks = list(search.asked.active)
    rows = [
        {
            **entry,
            "place": candidate_text(each),
            "hits": hits_text(each, len(marks)),
            "timeline": _timeline(seconds, marks, each.periods, each.unasked),
            "label": _label(each.periods, each.unasked),
        }
        for each, entry in zip(search.candidates[:MOST], told["candidates"], strict=False)
    ]
    return {
        **told,
        "outcome": _outcome(search),
        "notes": note_texts(search),
        "behind_words": behind_counts(search.behind),
        "rows": rows,
        "more": len(search.candidates) - len(rows),
        "bands": _timeline(seconds, marks, (), ()),
    }


def _outcome(search: Search) -> str:
    if search.separated:
        return "One candidate stands clear"
    return "No candidate stands clear" if search.candidates else "Nothing moved with the marks"


def _label(periods: Sequence[tuple[float, float]], unasked: Sequence[tuple[float, float]]) -> str:
    return f"active {counted(len(periods), 'time')}, {len(unasked)} of them outside the marks"


def _timeline(seconds: float, marks: Spans, periods: Spans, unasked: Spans) -> Markup:
    """Marks as bands, active times as bars, those that no mark asked for dashed below."""
    parts = [_bar("band", span, seconds, 0.0, HEIGHT) for span in marks]
    parts += [_bar("active", span, seconds, 5.0, 9.0) for span in periods]
    parts += [_bar("unasked", span, seconds, 17.0, 6.0) for span in unasked]
    return _svg("".join(parts))


def _bar(kind: str, span: tuple[float, float], seconds: float, top: float, height: float) -> str:
    left, right = (min(max(moment / seconds, 0.0), 1.0) * WIDTH for moment in span)
    return (
        f'<rect class="{kind}" x="{left:.2f}" y="{top:g}" width="{max(right - left, 0.8):.2f}"'
        f' height="{height:g}"/>'
    )


def _scale(seconds: float) -> Markup:
    """Seconds along the lines, at round numbers."""
    step = next(
        unit * 10**power for power in range(-2, 9) for unit in _TICKS if seconds / (unit * 10**power) <= 10
    )
    ticks = [number * step for number in range(int(seconds / step) + 1)]
    parts = [
        f'<path class="tick" d="M{tick / seconds * WIDTH:.2f} 0V5"/>'
        f'<text class="tick" x="{min(tick / seconds * WIDTH + 2, WIDTH - 30):.2f}" y="16">{tick:g} s</text>'
        for tick in ticks
    ]
    return _svg("".join(parts))


def _svg(inside: str) -> Markup:
    return Markup(  # numbers and names of our own
        f'<svg class="times" viewBox="0 0 {WIDTH:g} {HEIGHT:g}" preserveAspectRatio="none"'
        f' aria-hidden="true">{inside}</svg>'
    )
