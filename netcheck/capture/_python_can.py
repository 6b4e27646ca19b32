"""Captures through python-can's readers, which drop what they do not know without a word.

Here every line of a text format that gives no frame is counted, bytes behind a classic asc frame's eighth
are not cut off, and a damaged file ends with what was read before.
"""

from __future__ import annotations

import logging
import math
from collections.abc import Iterator
from itertools import takewhile
from typing import TYPE_CHECKING, Any, Final

from netcheck.capture._capture import BRS, ERROR, ESI, EXTENDED, FD, REMOTE
from netcheck.capture._chunks import ByteSource
from netcheck.capture._codes import BAD_TIME, NAMED, TOO_LONG_CLASSIC, WRONG_COUNT
from netcheck.capture._ledger import RELATIVE, UNNAMED
from netcheck.capture._lines import Lines
from netcheck.capture._records import FrameRecord
from netcheck.capture._suffixes import PYTHON_CAN_FORMATS
from netcheck.errors import InputError

if TYPE_CHECKING:
    from can import Message

_HEX_DIGITS: Final = frozenset("0123456789abcdefABCDEF")


class PythonCanReader:
    """A file in one of these formats, as a ``RecordReader``."""

    def __init__(self, source: ByteSource, suffix: str) -> None:
        self._form = PYTHON_CAN_FORMATS[suffix]
        self.name = self._form.name
        self.lines = _lines(source, self.name) if self._form.text else None
        self.last = ""
        self._source = source
        self._reader: Any = None
        self._stopped = ""
        self._complaints: list[str] = []
        self._unnamed = False

    def records(self) -> Iterator[FrameRecord | int]:
        """Frames, and reasons why a message is none; whatever python-can raises ends them."""
        heard = _WarningCollector()
        logger = logging.getLogger("can")
        passed_on, level = logger.propagate, logger.level
        logger.propagate = False
        logger.setLevel(logging.WARNING)
        logger.addHandler(heard)
        met = False
        try:
            for message in self._messages():
                met = True
                yield self._record(message)
            if self.lines:
                self.lines.settle()
        except (InputError, MemoryError):
            raise
        except Exception as error:  # python-can lets all kinds of errors through
            self._stop(error, met)
        finally:
            logger.removeHandler(heard)
            logger.setLevel(level)
            logger.propagate = passed_on
            self._complaints = heard.texts
            if self._reader is not None:
                self._reader.stop()

    def _stop(self, error: Exception, met: bool) -> None:
        where = f"line {self.lines.number}" if self.lines and self.lines.number else ""
        text = f"{type(error).__name__}: {error}" if str(error) else type(error).__name__
        if not met:
            raise InputError(
                self._source.file,
                f"cannot be read as {self.name} ({text})",
                where=where,
                remedy=self.remedy(),
            ) from error
        self._stopped = f"reading stopped{' at ' + where if where else ''} ({text}): the rest is missing"

    def _messages(self) -> Iterator[Message]:
        import can

        if self.name == "blf":
            from netcheck.capture._blf import BoundedBlf

            self._reader = BoundedBlf(self._source.stream())
        elif self._form.by_path:
            if self._source.packing:
                raise InputError(
                    self._source.file, f"{self.name} cannot be read compressed", remedy="unpack it first"
                )
            self._reader = getattr(can, self._form.reader)(self._source.path)
        else:
            what = _asc_lines(self.lines) if self.lines and self.name == "asc" else self.lines
            self._reader = getattr(can, self._form.reader)(what)
        for message in self._reader:
            if self.lines:
                self.lines.used()
            yield message

    def _record(self, message: Message) -> FrameRecord | int:
        if getattr(self._reader, "timestamps_format", None) == "relative":
            raise InputError(
                self._source.file,
                "its times are differences between events",
                remedy="export it with absolute time stamps",
            )
        self.last = str(message) if self.lines is None else ""
        if not math.isfinite(message.timestamp):
            return BAD_TIME
        flags = _flags(message)
        if self.name == "asc" and self.lines and not flags & (FD | REMOTE | ERROR):
            reason = _asc_fault(self.lines.line, 10 if self._reader.base == "dec" else 16)
            if reason:
                return reason
        length = _length(message, flags, self.name)
        if not flags & (FD | REMOTE | ERROR) and not 0 <= message.dlc <= 64:
            return WRONG_COUNT
        time_ns = round(message.timestamp * 1e6) * 1000
        return FrameRecord(
            time_ns, message.arbitration_id, flags, self._channel(message), length, bytes(message.data)
        )

    def _channel(self, message: Message) -> str:
        """The first numbered one is can0, whether a format counts from 0 or 1."""
        channel = message.channel
        if channel is None:
            self._unnamed = True
            channel = 0
        elif self.name == "trc" and isinstance(channel, int):
            channel -= 1  # python-can does so for asc and blf
        return f"can{channel}" if isinstance(channel, int) else str(channel)

    def remedy(self) -> str:
        """What to do about a file that cannot be read."""
        if self._form.by_path:
            return "install asammdf, or export it as blf or asc"
        return "export it again, or as a candump log"

    def remarks(self) -> list[str]:
        """What python-can said, and what holds for the whole file."""
        found = [self._stopped] if self._stopped else []
        found += [f"python-can says: {text}" for text in self._complaints]
        if self._unnamed:
            found.append(UNNAMED)
        if self._is_relative():
            found.append(RELATIVE)
        return found

    def _is_relative(self) -> bool:
        """asc counts from its start (its date has no zone); trc and blf do if they have no start time."""
        return (
            self.name == "asc"
            or (self.name == "trc" and self._reader.start_time is None)
            or (self.name == "blf" and not self._reader.start_timestamp)
        )


class _WarningCollector(logging.Handler):
    """Keeps the first few different things that python-can logs as warnings."""

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.texts: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        text = record.getMessage()
        if text not in self.texts and len(self.texts) < NAMED:
            self.texts.append(text)


class _AscLines:
    """asc lines for python-can, which takes the line behind the header for a part of it."""

    def __init__(self, lines: Lines) -> None:
        self._lines = lines
        self._ahead: list[str] = []
        self._is_begun = False

    def __iter__(self) -> _AscLines:
        return self

    def __next__(self) -> str:
        if self._ahead:
            return self._ahead.pop()
        line = next(self._lines)
        if not self._is_begun and line.lstrip()[:1].isdigit():
            self._is_begun = True
            self._ahead.append(line)
            return "no internal events logged\n"  # a line that may be lost
        return line

    def read(self, size: int = -1) -> str:
        """Only there for python-can to know this for a file."""
        return self._lines.read(size)

    def close(self) -> None:
        """Nothing to do."""


def _asc_lines(lines: Lines) -> _AscLines:
    return _AscLines(lines)


def _lines(source: ByteSource, name: str) -> Lines:
    if name == "asc":
        return Lines(source, _is_quiet_asc, lambda line: line[-2:-1] == " ")  # a byte of one digit
    return Lines(source, lambda text, _: text.startswith(";"))


def _is_quiet_asc(text: str, _: int) -> bool:
    """Whether it stands in the header or between frames. A time below zero is one that python-can drops."""
    return not text.removeprefix("-")[:1].isdigit() or text.endswith("Start of measurement")


def _asc_fault(line: str, base: int) -> int:
    """Why a classic asc line's bytes are no frame's, or 0: python-can cuts off those behind the eighth."""
    words = line.split()
    if "d" not in words[3:-1]:
        return 0
    at = words.index("d", 3)
    code = int(words[at + 1], base)
    written = takewhile(lambda word: len(word) <= 3 and set(word) <= _HEX_DIGITS, words[at + 2 :])
    count = sum(1 for _ in written)
    if not 0 <= code <= 15 or count > 8:
        return TOO_LONG_CLASSIC
    return WRONG_COUNT if count != min(code, 8) else 0


def _length(message: Message, flags: int, name: str) -> int:
    """Data bytes that the message says it has. trc gives the length code also of CAN FD frames."""
    if flags & ERROR:
        return len(message.data)
    if not flags & FD:
        return min(int(message.dlc), 8)
    if name == "trc":
        from can.util import dlc2len

        return int(dlc2len(message.dlc))
    # An empty frame of asc is a remote one for python-can, with its length code.
    return len(message.data) if message.is_remote_frame else int(message.dlc)


def _flags(message: Message) -> int:
    if message.is_error_frame:
        return ERROR
    flags = EXTENDED if message.is_extended_id else 0
    if message.is_fd:  # CAN FD has no remote frames; python-can takes an empty one of asc for one
        return (
            flags
            | FD
            | (BRS if message.bitrate_switch else 0)
            | (ESI if message.error_state_indicator else 0)
        )
    return flags | (REMOTE if message.is_remote_frame else 0)
