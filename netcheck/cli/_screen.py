"""The live part of a screen: text that scrolls away above, a few lines at the bottom written anew."""

from __future__ import annotations

import os
import re
import shutil
import sys
from collections.abc import Sequence
from typing import Final

from netcheck.cli._output import PIPED_WIDTH
from netcheck.words import escaped

_COLOUR: Final = re.compile(r"(\x1b\[[0-9;]*m)")


def _printable(text: str) -> str:
    """The text with its colours; nothing else that a terminal acts upon, such as a name may bring along."""
    parts = _COLOUR.split(text)
    return "".join(
        part if number % 2 else escaped(part).replace("\r", "\\r") for number, part in enumerate(parts)
    )


class Screen:
    """Standard error. Where it is no terminal, the lines at the bottom are left out."""

    def __init__(self, *, beeps: bool = False) -> None:
        """beeps: whether ``beep`` may be heard."""
        terminal = sys.stderr.isatty()
        dumb = os.environ.get("TERM") == "dumb"
        self.is_live = terminal and not dumb
        self.colour = self.is_live and not os.environ.get("NO_COLOR")
        self._terminal = terminal
        self._beeps = beeps and self.is_live
        self._lines = 0

    @property
    def width(self) -> int:
        """Columns."""
        if not self._terminal:
            return PIPED_WIDTH
        return min(max(shutil.get_terminal_size((PIPED_WIDTH, 24)).columns, 40), 120)

    @property
    def height(self) -> int:
        """Lines; 24 where it is no terminal."""
        return shutil.get_terminal_size((PIPED_WIDTH, 24)).lines if self._terminal else 24

    @property
    def room(self) -> int:
        """Columns of a line that is written anew: it must not wrap on the narrowest screen either."""
        columns = shutil.get_terminal_size((PIPED_WIDTH, 24)).columns if self._terminal else PIPED_WIDTH
        return max(columns - 1, 1)

    def say(self, text: str) -> None:
        """Text that stays; it ends with a line feed."""
        self._write(self._erased() + _printable(text))

    def show(self, lines: Sequence[str]) -> None:
        """The lines at the bottom; none is as wide as the screen, so that none wraps."""
        if self.is_live:
            self._write(self._erased() + "".join(_printable(line) + "\n" for line in lines))
            self._lines = len(lines)

    def beep(self) -> None:
        """The terminal's bell: the person sits in the vehicle and does not see the screen."""
        if self._beeps:
            self._write("\a")

    def clear(self) -> None:
        """Take the lines at the bottom away."""
        self._write(self._erased())

    def _erased(self) -> str:
        lines, self._lines = self._lines, 0
        return f"\x1b[{lines}A\r\x1b[J" if lines else ""

    def _write(self, text: str) -> None:
        if text:
            sys.stderr.write(text)  # a terminal that goes away ends no recording: see _streams
            sys.stderr.flush()
