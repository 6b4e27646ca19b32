"""A page of styled lines: written once, shown with colour or without, never wider than asked."""

from __future__ import annotations

from enum import StrEnum
from typing import Final

from netcheck.records import dataclass
from netcheck.report._wrap import cells, clean, wrap
from netcheck.words import escaped

LEAST_WIDTH: Final = 40  # columns; a narrower page is written at this width


class Style(StrEnum):
    """What a piece of text is; the value is its ANSI code (ECMA-48, select graphic rendition)."""

    PLAIN = ""
    STRONG = "1"
    GOOD = "32"
    CHANGE = "36"
    DOUBT = "33"
    BAD = "1;31"


@dataclass(frozen=True)
class StyledText:
    """A piece of one line."""

    text: str
    style: Style = Style.PLAIN


class Page:
    """Lines as they come. Every text is cleaned and wrapped here, and nowhere else."""

    def __init__(self, width: int) -> None:
        self.width = max(width, LEAST_WIDTH)
        self._lines: list[tuple[StyledText, ...]] = []

    @property
    def height(self) -> int:
        """Lines so far."""
        return len(self._lines)

    def blank(self) -> None:
        """An empty line, unless one stands there already or the page is empty."""
        if self._lines and self._lines[-1]:
            self._lines.append(())

    def heading(self, text: str, style: Style = Style.STRONG) -> None:
        """A blank line and a heading with a rule to the right edge."""
        self.blank()
        lines = wrap(text, self.width - 6)
        for line in lines[:-1]:
            self._lines.append((StyledText(f"── {line}", style),))
        fill = "─" * (self.width - 4 - cells(lines[-1]))
        self._lines.append((StyledText(f"── {lines[-1]}", style), StyledText(f" {fill}")))

    def text(self, text: str, *, indent: int = 0, style: Style = Style.PLAIN) -> None:
        """A paragraph."""
        for line in wrap(text, self.width - indent):
            self._lines.append((StyledText(" " * indent), StyledText(line, style)))

    def entry(
        self,
        lead: str,
        text: str,
        *,
        indent: int = 0,
        column: int | None = None,
        style: Style = Style.PLAIN,
        text_style: Style = Style.PLAIN,
    ) -> None:
        """A lead in its style, and a paragraph that starts in ``column`` and hangs there.

        column counts from the indent; None is one blank after the lead. A lead that reaches beyond the
        column gets lines of its own.
        """
        head = clean(lead)
        start = cells(head) + 1 if column is None else column
        start = min(start, (self.width - indent) // 2)
        left = indent + start
        lines = wrap(text, self.width - left)
        if cells(head) < start:
            gap = " " * (start - cells(head))
            self._lines.append(
                (
                    StyledText(" " * indent),
                    StyledText(head, style),
                    StyledText(gap),
                    StyledText(lines.pop(0), text_style),
                )
            )
        else:
            first, *others = wrap(head, self.width - indent - 2, first=self.width - indent)
            self._lines.append((StyledText(" " * indent), StyledText(first, style)))
            self._lines += [(StyledText(" " * (indent + 2)), StyledText(part, style)) for part in others]
        self._lines += [(StyledText(" " * left), StyledText(line, text_style)) for line in lines]

    def raw(self, *spans: StyledText) -> None:
        """A line whose blanks count, such as a row of a table or one to copy."""
        self._lines.append(tuple(StyledText(escaped(span.text), span.style) for span in spans))

    def render(self, *, colour: bool) -> str:
        """All lines, each with a line feed. Without its escape sequences, coloured text is the plain text."""
        return "".join(_render(line, colour) + "\n" for line in self._lines)


def _render(line: tuple[StyledText, ...], colour: bool) -> str:
    spans = list(line)
    while spans and not spans[-1].text.strip():
        spans.pop()
    if spans:
        spans[-1] = StyledText(spans[-1].text.rstrip(), spans[-1].style)
    return "".join(
        f"\x1b[{span.style}m{span.text}\x1b[0m" if colour and span.style and span.text else span.text
        for span in spans
    )
