"""Text to lines of a width: what a terminal shows, counted in its cells.

What is read or copied as one is never broken over lines: a path, an id, a number with its unit or what it
counts, a run of bytes. One that is longer than a line stands on a line of its own and overhangs: half a path
leads nowhere, and a torn number misleads. So no line is wider than asked, except one that is a single such
piece.
"""

from __future__ import annotations

import re
import unicodedata
from typing import Final

from netcheck.words import clean

__all__ = ["cells", "clean", "pieces", "wrap"]

_WIDE: Final = frozenset("WF")
_NO_CELL: Final = frozenset({"Mn", "Me", "Cf"})

_HOLD: Final = "\N{NO-BREAK SPACE}"  # a blank inside a piece; cleaned text has none
_DIGITS: Final = r"\d(?:[\d.,:–-]*\d)?[¼½¾]?"
_UNCOUNTED: Final = "and|are|as|at|but|by|for|from|in|is|it|on|or|so|than|that|the|to|was|were|which|with"
_PIECES: Final = (
    # 'logs of May/x.log': a quoted path with blanks
    re.compile(r"(?<![^ (])'[^']*[./\\][^']*'"),
    # 03 00 1F 00
    re.compile(r"(?<![^ (\[\"'])[0-9A-F]{2}(?: [0-9A-F]{2})+(?![\w/])"),
    # 500 kbit/s, 42 frames, 12 of 64 ids
    re.compile(
        rf"(?<![^ ])[^\w\s]{{0,3}}{_DIGITS}(?: of {_DIGITS})?(?: (?=[^\W\d_]|[%‰°])(?!(?:{_UNCOUNTED})\b))?"
    ),
)


def cells(text: str) -> int:
    """How many columns the text takes: wide characters two, combining ones none."""
    if text.isascii():
        return len(text)
    return sum(_cells_of(char) for char in text)


def _cells_of(char: str) -> int:
    if unicodedata.category(char) in _NO_CELL:
        return 0
    return 2 if unicodedata.east_asian_width(char) in _WIDE else 1


def pieces(text: str) -> list[str]:
    """The cleaned text in pieces that no end of a line may part; one blank is between two of them."""
    held = clean(text)
    for pattern in _PIECES:
        held = pattern.sub(lambda found: found[0].replace(" ", _HOLD), held)
    return [piece.replace(_HOLD, " ") for piece in held.split(" ")]


def wrap(text: str, width: int, first: int | None = None) -> list[str]:
    """Break cleaned text between its pieces into lines of at most ``width`` cells; at least one line.

    first: cells that the first line may take, if it differs. A piece longer than its line overhangs; only
    text of a script that is written without blanks is broken anywhere. width is at least 2.
    """
    lines: list[str] = []
    room = width if first is None else first
    line = ""
    for piece in pieces(text):
        rest = piece
        if line and cells(line) + 1 + cells(rest) <= room:
            line = f"{line} {rest}"
            continue
        if line:
            lines.append(line)
            line, room = "", width
        while cells(rest) > room and _is_breakable(rest):
            head, rest = _split(rest, room)
            lines.append(head)
            room = width
        line = rest
    return [*lines, line]


def _is_breakable(piece: str) -> bool:
    """Whether it is running text without blanks, as in Chinese, and no name or path."""
    wide = sum(unicodedata.east_asian_width(char) in _WIDE for char in piece)
    return 2 * wide > len(piece) and not any(mark in piece for mark in "/\\_")


def _split(piece: str, room: int) -> tuple[str, str]:
    """What fits of a long piece, never empty, and the rest."""
    end, used = 0, 0
    for char in piece:
        used += _cells_of(char)
        if used > room:
            break
        end += 1
    end = max(end, 1)
    return piece[:end], piece[end:]
