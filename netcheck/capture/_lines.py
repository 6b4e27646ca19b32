"""Lines of a text format on their way to a reader; those that give no frame are counted."""

from __future__ import annotations

import io
from collections import deque
from collections.abc import Callable
from typing import Final

from netcheck.capture._chunks import ByteSource
from netcheck.capture._codes import CUT, LONGEST_LINE, NAMED, NO_FRAME, TOO_LONG_LINE
from netcheck.capture._ledger import Skipped, excerpt

_ENDS: Final = ("\n", "\r")

_SKIPPED_AT_ONCE: Final = 1 << 16

IsQuiet = Callable[[str, int], bool]


class Lines:
    """The lines of a text format; keeps the first that gave no frame.

    line, number: the one at hand; number counts from 1
    unfinished:   the last line has no line end
    is_quiet:     whether a line that gave no frame need not be counted: (its text without blanks, its number)
    is_cut:       whether a last line without a line end has lost a part of itself
    """

    def __init__(
        self,
        source: ByteSource,
        is_quiet: IsQuiet,
        is_cut: Callable[[str], bool] = lambda _: False,
    ) -> None:
        self._stream = io.TextIOWrapper(source.stream(), encoding="utf-8-sig", errors="replace", newline="")
        self._source = source
        self._is_quiet = is_quiet
        self._is_cut = is_cut
        self._is_used = True
        self._ahead: deque[str] = deque()
        self.line = ""
        self.number = 0
        self.unfinished = False
        self.skipped: list[Skipped] = []
        self.skipped_count = 0

    def __iter__(self) -> Lines:
        return self

    def __next__(self) -> str:
        while True:
            self.settle()
            line = self._ahead.popleft() if self._ahead else self._stream.readline(LONGEST_LINE + 1)
            if not line:
                raise StopIteration
            self.line = line
            self._is_used = False
            self.number += 1
            if line.endswith(_ENDS):
                return line
            if len(line) <= LONGEST_LINE:
                self.unfinished = True
                if self._source.fault or self._is_cut(line):
                    self.note(CUT)
                    return "\n"
                return line
            self.note(TOO_LONG_LINE)
            while line and not line.endswith(_ENDS):
                line = self._ahead.popleft() if self._ahead else self._stream.readline(_SKIPPED_AT_ONCE)

    def peek(self, count: int) -> list[str]:
        """That many of the next lines, which come again; fewer at the end."""
        while len(self._ahead) < count and (line := self._stream.readline(LONGEST_LINE + 1)):
            self._ahead.append(line)
        return list(self._ahead)[:count]

    def read(self, _size: int = -1) -> str:
        """Only there for python-can to know this for a file."""
        raise io.UnsupportedOperation

    def close(self) -> None:
        """Nothing to do: the source is closed by its owner."""

    def used(self) -> None:
        """The line at hand gave a frame, or need not give one."""
        self._is_used = True

    def note(self, reason: int) -> None:
        """The line at hand gave none, and why."""
        self._is_used = True
        self.skipped_count += 1
        if len(self.skipped) < NAMED:
            self.skipped.append(Skipped(self.number, reason, excerpt(self.line.encode("utf-8", "replace"))))

    def settle(self) -> None:
        """Counts the line at hand unless it gave a frame or is quiet."""
        if self._is_used:
            return
        self._is_used = True
        text = self.line.strip()
        if text and not self._is_quiet(text, self.number):
            self.note(NO_FRAME)
