"""A DBC text, looked over before cantools reads it: its entries and lines, strings and comments blank."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import field
from functools import cached_property
from typing import Final

from netcheck.records import dataclass

_HIDDEN: Final = re.compile(r'//[^\n]*|"[^"\\]*(?:\\"?[^"\\]*)*"')  # as cantools finds them
_INSIDE: Final = re.compile(r"[^\n]")
_KEYWORD: Final = re.compile(
    r"(?<![A-Za-z_])(?:BO_|SG_|BU_|VAL_|SG_MUL_VAL_|SIG_VALTYPE_|BO_TX_BU_)(?!\w)", re.ASCII
)


@dataclass(frozen=True)
class DbcEntry:
    """A keyword of a DBC, and what follows it until the next one: ``bare[start:end]`` of its text."""

    keyword: str
    start: int
    end: int


@dataclass(frozen=True)
class DbcText:
    """A DBC text.

    bare: as long as the text, line for line; comments are blank, and so are strings between their quotes
    """

    text: str
    bare: str = field(repr=False)

    def entries(self) -> Iterator[DbcEntry]:
        """The keywords that matter here, in file order; in ``CM_ SG_ 1 A "…";`` SG_ is one, too."""
        found = list(_KEYWORD.finditer(self.bare))
        ends = [*(keyword.start() for keyword in found), len(self.bare)][1:]
        for keyword, end in zip(found, ends, strict=True):
            yield DbcEntry(keyword[0], keyword.start(), end)

    def strings(self) -> Iterator[tuple[int, str]]:
        """What stands between quotes, with its place; comments are none."""
        for found in _HIDDEN.finditer(self.text):
            if found[0].startswith('"'):
                yield found.start(), found[0][1:-1]

    @cached_property
    def _line_ends(self) -> list[int]:
        return [found.start() for found in re.finditer("\n", self.text)]

    def line(self, place: int) -> int:
        """The number of the line that a place of the text is in, from 1."""
        return bisect_left(self._line_ends, place) + 1

    def changed(self, spans: Sequence[tuple[int, int, str]]) -> DbcText:
        """The text with other pieces at some places, in file order: from, to, what stands there then."""
        pieces, at = [], 0
        for start, end, piece in spans:
            pieces += [self.text[at:start], piece]
            at = end
        return dbc_text("".join(pieces) + self.text[at:]) if spans else self


def dbc_text(text: str) -> DbcText:
    """A text with its strings and comments blanked."""
    return DbcText(text, _HIDDEN.sub(_blank, text))


def _blank(found: re.Match[str]) -> str:
    if found[0].startswith("//"):
        return _INSIDE.sub(" ", found[0])
    return '"' + _INSIDE.sub(" ", found[0][1:-1]) + '"'
