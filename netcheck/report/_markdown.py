"""A page of Markdown for a terminal. The part of Markdown that the guide uses, and no more:

headings, paragraphs, flat lists, tables and fenced blocks; inside a line bold, italics, code and links.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby
from typing import Final

from netcheck.records import dataclass
from netcheck.report._page import Page, Style, StyledText
from netcheck.report._wrap import cells, wrap

_FENCE: Final = "```"
_HEADING: Final = re.compile(r"(#+) (.*)")
_ENTRY: Final = re.compile(r"(-|\d+\.) +(.*)")
_LINK: Final = re.compile(r"\[([^]]+)\]\(([^)]+)\)")
_CODE: Final = re.compile(r"`[^`]*`")
_HELD: Final = re.compile("\0")  # stands for a piece of code while the rest is looked at
_STRESS: Final = re.compile(r"(\*\*?)(\S|\S.*?\S)\1")
_GAP: Final = 2  # blanks between the columns of a table


@dataclass(frozen=True)
class _Part:
    """Lines that belong together. kind: heading, text, entry, code or table."""

    kind: str
    lines: tuple[str, ...]


def topics_text(topics: Sequence[tuple[str, str]], *, width: int, colour: bool) -> str:
    """The list of topics, a line each. topics: the name and the title of each."""
    page = Page(width)
    page.text("The guide: netcheck guide TOPIC prints a page.")
    page.blank()
    column = 2 + max(len(name) for name, _ in topics)
    for name, title in topics:
        page.entry(name, title, indent=2, column=column, style=Style.STRONG)
    return page.render(colour=colour)


def guide_page_text(markdown: str, *, width: int, colour: bool) -> str:
    """The page, wrapped. Fenced blocks stand as they are, also where they are wider than ``width``."""
    page = Page(width)
    last = ""
    for part in _parts(markdown):
        if not (part.kind == last == "entry"):
            page.blank()
        last = part.kind
        if part.kind == "code":
            for line in part.lines:
                page.raw(StyledText(line))
        elif part.kind == "table":
            _table(page, [_row(line) for line in part.lines if not line.startswith("|-")])
        else:
            _text(page, part.kind, _plain(" ".join(part.lines)))
    return page.render(colour=colour)


def _parts(markdown: str) -> Iterator[_Part]:
    fenced: list[str] | None = None
    lines: list[str] = []
    for line in markdown.splitlines():
        if line.startswith(_FENCE):
            if fenced is None:
                yield from _unfenced(lines)
                fenced, lines = [], []
            else:
                yield _Part("code", tuple(fenced))
                fenced = None
        elif fenced is not None:
            fenced.append(line)
        else:
            lines.append(line)
    yield from _unfenced(lines)


def _unfenced(lines: Iterable[str]) -> Iterator[_Part]:
    for blank, group in groupby(lines, lambda line: not line.strip()):
        if not blank:
            yield from _paragraphs(list(group))


def _paragraphs(lines: list[str]) -> Iterator[_Part]:
    """Parts of lines without an empty one between: a heading, a table, a list or one paragraph."""
    if lines[0].startswith("|"):
        yield _Part("table", tuple(lines))
        return
    kind, taken = "text", list[str]()
    for line in lines:
        starts = "heading" if _HEADING.match(line) else "entry" if _ENTRY.match(line) else ""
        if starts and taken:
            yield _Part(kind, tuple(taken))
            taken = []
        if starts:
            kind = starts
        taken.append(line.strip())
    yield _Part(kind, tuple(taken))


def _text(page: Page, kind: str, text: str) -> None:
    if kind == "heading" and (found := _HEADING.match(text)):
        if len(found[1]) == 2:
            page.heading(found[2])
        else:
            page.text(found[2], style=Style.STRONG)
    elif kind == "entry" and (found := _ENTRY.match(text)):
        page.entry(found[1], found[2], indent=2)
    else:
        page.text(text)


def _plain(text: str) -> str:
    """The text without its marks; code keeps its own, and a link says where it leads."""
    linked = _LINK.sub(_link, text)
    spans = iter(_CODE.findall(linked))
    return _HELD.sub(lambda _: next(spans), _STRESS.sub(r"\2", _CODE.sub("\0", linked)))


def _link(found: re.Match[str]) -> str:
    name, target = found[1], re.sub(r"^(\.\./)+", "", found[2])
    if re.fullmatch(r"[a-z]+\.md", target):
        return f"{name} (netcheck guide {target.removesuffix('.md')})"
    return name if name == target else f"{name} ({target})"


def _row(line: str) -> list[str]:
    return [_plain(cell.strip()) for cell in line.strip().strip("|").split("|")]


def _table(page: Page, rows: list[list[str]]) -> None:
    """Columns where they fit; else the last column is wrapped, or each row becomes a few lines."""
    head, *body = rows
    wide = [max(cells(row[column]) for row in rows) for column in range(len(head))]
    left = sum(wide[:-1]) + _GAP * (len(wide) - 1)
    if left <= page.width // 2:
        for row in rows:
            style = Style.STRONG if row is head else Style.PLAIN
            lead = "".join(row[at] + " " * (wide[at] - cells(row[at]) + _GAP) for at in range(len(wide) - 1))
            for line in wrap(row[-1], page.width - left):
                page.raw(StyledText(lead + line, style))
                lead = " " * left
        return
    for row in body:
        page.entry("-", row[0])
        for name, cell in zip(head[1:], row[1:], strict=True):
            page.entry(f"{name}:" if name else "", cell, indent=4)
