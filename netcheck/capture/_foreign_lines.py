"""Lines of a text format on their way to a python-can reader."""

from __future__ import annotations

import io
from typing import NamedTuple

from netcheck.capture._chunks import ByteSource
from netcheck.capture._codes import CUT, NAMED, NO_FRAME
from netcheck.capture._ledger import Skipped, excerpt


class LineFormat(NamedTuple):
    """How a format is read: python-can's reader, and whether it is text or wants a file of its own."""

    name: str
    reader: str
    text: bool = True
    by_path: bool = False


class Lines:
    """The lines of a text format on their way to a reader; keeps those that gave no frame.

    line, number: the one at hand
    """

    def __init__(self, source: ByteSource, form: LineFormat) -> None:
        stream = io.TextIOWrapper(source.stream(), encoding="utf-8-sig", errors="replace", newline="")
        self._lines = iter(stream)
        self._source = source
        self._form = form
        self.line = ""
        self._used = True
        self._events = form.name == "asc"
        self._ahead: list[str] = []
        self.number = 0
        self.unfinished = False
        self.skipped: list[Skipped] = []
        self.skipped_count = 0

    def __iter__(self) -> Lines:
        return self

    def __next__(self) -> str:
        if self._ahead:
            return self._ahead.pop()
        self.settle()
        self.line = line = next(self._lines)
        self._used = False
        self.number += 1
        if not line.endswith("\n"):
            self.unfinished = True
            # A last data byte of one digit, or data that broke off: the rest of the line is missing.
            if self._source.fault or (self._form.name == "asc" and line[-2:-1] == " "):
                self.note(CUT)
                return "\n"
        if self._events and line.lstrip()[:1].isdigit():
            # python-can takes the line behind the header for a header line: give it one that may be lost.
            self._events = False
            self._ahead.append(line)
            return "no internal events logged\n"
        return line

    def read(self, _size: int = -1) -> str:
        """Only there for python-can to know this for a file."""
        raise io.UnsupportedOperation

    def close(self) -> None:
        """Nothing to do: the source is closed by its owner."""

    def used(self) -> None:
        """The line at hand gave a frame."""
        self._used = True

    def note(self, reason: int) -> None:
        """The line at hand gave none, and why."""
        self._used = True
        self.skipped_count += 1
        if len(self.skipped) < NAMED:
            self.skipped.append(Skipped(self.number, reason, excerpt(self.line.encode("utf-8", "replace"))))

    def settle(self) -> None:
        """Counts the line at hand unless it gave a frame, or is blank, a comment or part of the header."""
        if self._used:
            return
        text = self.line.strip()
        name = self._form.name
        quiet = (
            not text
            or (name == "trc" and text.startswith(";"))
            or (name == "asc" and (not text[0].isdigit() or text.endswith("Start of measurement")))
            or (name == "csv" and self.number == 1)
        )
        if not quiet:
            self.note(NO_FRAME)
