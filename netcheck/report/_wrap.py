"""Text to lines of a width: what a terminal shows, counted in its cells."""

from __future__ import annotations

import unicodedata
from typing import Final

_WIDE: Final = frozenset("WF")
_NO_CELL: Final = frozenset({"Mn", "Me", "Cf"})
_UNPRINTABLE: Final = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})


def clean(text: str) -> str:
    """One line of printable text: blanks run together, control characters shown as ``\\ufffd``.

    Names and texts come from files of others; an escape sequence in one must not reach a terminal.
    """
    return "".join(
        "\ufffd" if unicodedata.category(char) in _UNPRINTABLE else char for char in " ".join(text.split())
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


def wrap(text: str, width: int, first: int | None = None) -> list[str]:
    """Break cleaned text at blanks into lines of at most ``width`` cells; at least one line.

    first: cells that the first line may take, if it differs. A word longer than a line is broken, after
    one of ``/ _ . - :`` if there is one, so that a path or a name can be read on. width is at least 2.
    """
    lines: list[str] = []
    room = width if first is None else first
    line = ""
    for word in clean(text).split(" "):
        rest = word
        if line and cells(line) + 1 + cells(rest) <= room:
            line = f"{line} {rest}"
            continue
        if line:
            lines.append(line)
            line, room = "", width
        while cells(rest) > room:
            head, rest = _split(rest, room)
            lines.append(head)
            room = width
        line = rest
    return [*lines, line]


def _split(word: str, room: int) -> tuple[str, str]:
    """The part of a long word that fits, never empty, and the rest."""
    end, used = 0, 0
    for char in word:
        used += _cells_of(char)
        if used > room:
            break
        end += 1
    end = max(end, 1)
    good = max(word.rfind(mark, 0, end) for mark in "/_.-:") + 1
    if good > end // 2:
        end = good
    return word[:end], word[end:]
