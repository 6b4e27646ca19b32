"""Captures in other formats than candump text, through python-can's readers.

One Python object a frame, so much slower than candump text. The readers drop what they do not know without
a word; here every line of a text format that gives no frame is counted.
"""

from __future__ import annotations

import logging
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from netcheck.capture._capture import BRS, ERROR, ESI, EXTENDED, FD, REMOTE, Columns
from netcheck.capture._chunks import ByteSource
from netcheck.capture._codes import MOST_CHANNELS, NAMED, REASONS, WRONG_COUNT, WRONG_ID
from netcheck.capture._columns import Batch
from netcheck.capture._foreign_lines import LineFormat, Lines
from netcheck.capture._ledger import Skipped, skipped_warning, steps_back_warning
from netcheck.errors import InputError

if TYPE_CHECKING:
    from can import Message

_BYTES_A_FRAME: Final = 60  # of a text format, about; turns bytes of a chunk to frames
_RELATIVE: Final = "time stamps count from the start of the recording: they are not times of day"


FORMATS: Final = {
    ".asc": LineFormat("asc", "ASCReader"),
    ".blf": LineFormat("blf", "BLFReader", text=False),
    ".csv": LineFormat("csv", "CSVReader"),
    ".mf4": LineFormat("mf4", "MF4Reader", text=False, by_path=True),
    ".trc": LineFormat("trc", "TRCReader"),
}
_REMEDY: Final = {
    ".csv": "the first line must be timestamp,arbitration_id,extended,remote,error,dlc,data",
    ".mf4": "install asammdf, or export it as blf or asc",
}


class ForeignLog:
    """A capture file in one of the formats that python-can reads."""

    def __init__(self, source: ByteSource, suffix: str) -> None:
        self.file = source.file
        self.total = source.total
        self.channels: dict[str, int] = {}
        self.frames = 0
        self._suffix = suffix
        self._form = FORMATS[suffix]
        self._source = source
        self._lines = Lines(source, self._form) if self._form.text else None
        self._reader: Any = None
        self._refused: list[Skipped] = []
        self._refused_count = 0
        self._stopped = ""
        self._pending = False
        self._complaints: list[str] = []
        self._back = [0, 0, 0]  # steps, first frame, largest
        self._now: int | None = None
        self._unnamed = False

    @property
    def skipped(self) -> int:
        """Lines, or records of a binary format, that were not frames."""
        return self._refused_count + (self._lines.skipped_count if self._lines else 0)

    def batches(self, threads: int, chunk_bytes: int) -> Iterator[Batch]:
        """Columns in file order; ``threads`` means nothing here."""
        most = max(1, chunk_bytes // _BYTES_A_FRAME)
        pile: list[Message] = []
        before = 0
        messages = self._messages()
        while True:
            pile = []
            for message in messages:
                if self._is_good(message):
                    pile.append(message)
                if len(pile) >= most:
                    break
            if pile:
                yield self._batch(pile, self.skipped - before)
                before = self.skipped
            if len(pile) < most:
                break
        if not self.frames:
            raise self._no_frame()

    def _messages(self) -> Iterator[Message]:
        """python-can's messages; whatever it raises ends them."""
        heard = _WarningCollector()
        logger = logging.getLogger("can")
        passed_on, level = logger.propagate, logger.level
        logger.propagate = False
        logger.setLevel(logging.WARNING)
        logger.addHandler(heard)
        try:
            yield from self._read()
        except InputError:
            raise
        except Exception as error:  # python-can lets all kinds of errors through
            where = f"line {self._lines.number}" if self._lines and self._lines.number else ""
            text = f"{type(error).__name__}: {error}" if str(error) else type(error).__name__
            if not self.frames and not self._pending:
                raise InputError(
                    self.file,
                    f"cannot be read as {self._form.name} ({text})",
                    where=where,
                    remedy=self._remedy(),
                ) from error
            self._stopped = f"reading stopped{' at ' + where if where else ''} ({text}): the rest is missing"
        finally:
            logger.removeHandler(heard)
            logger.setLevel(level)
            logger.propagate = passed_on
            self._complaints = heard.texts
            if self._reader is not None:
                self._reader.stop()

    def _read(self) -> Iterator[Message]:
        import can

        what: Any = self._lines
        if self._form.by_path:
            if self._source.packing:
                raise InputError(
                    self.file, f"{self._form.name} cannot be read compressed", remedy="unpack it first"
                )
            what = self.file
        elif what is None:
            what = self._source.stream()
        self._reader = getattr(can, self._form.reader)(what)
        for message in self._reader:
            if self._lines:
                self._lines.used()
            self._pending = True
            yield message
        if self._lines:
            self._lines.settle()

    def _is_good(self, message: Message) -> bool:
        if getattr(self._reader, "timestamps_format", None) == "relative":
            raise InputError(
                self.file,
                "its times are differences between events",
                remedy="export it with absolute time stamps",
            )
        reason = 0
        if message.arbitration_id > (0x1FFFFFFF if message.is_extended_id else 0x7FF):
            reason = WRONG_ID
        elif not (message.is_remote_frame or message.is_error_frame) and len(message.data) < _expected(
            message, self._form.name
        ):
            reason = WRONG_COUNT
        if not reason:
            return True
        if self._lines:
            self._lines.note(reason)
        else:
            self._refused_count += 1
            if len(self._refused) < NAMED:
                self._refused.append(Skipped(self.frames + self._refused_count, reason, str(message)))
        return False

    def _batch(self, messages: list[Message], skipped: int) -> Batch:
        n = len(messages)
        lengths = np.fromiter((_length(m) for m in messages), np.uint8, n)
        parts = [b"" if m.is_remote_frame and not m.is_fd else bytes(m.data) for m in messages]
        ends = np.cumsum(np.fromiter((len(p) for p in parts), np.int64, n))
        times = np.fromiter((round(m.timestamp * 1e6) * 1000 for m in messages), np.int64, n)
        columns = Columns(
            time_ns=times,
            can_id=np.fromiter((m.arbitration_id for m in messages), np.uint32, n),
            flags=np.fromiter((_flags(m) for m in messages), np.uint8, n),
            channel=np.fromiter((self._channel(m.channel) for m in messages), np.uint8, n),
            length=lengths,
            start=ends - np.fromiter((len(p) for p in parts), np.int64, n),
            data=np.frombuffer(b"".join(parts), np.uint8),
        )
        self._note_times(times)
        self.frames += n
        return Batch(columns, n, int(ends[-1]), skipped, self._source.passed())

    def _channel(self, channel: Any) -> int:
        """Index of a channel. The first numbered one is can0, whether a format counts from 0 or 1."""
        if channel is None:
            self._unnamed = True
            channel = 0
        elif self._form.name == "trc" and isinstance(channel, int):
            channel -= 1  # python-can does so for asc and blf
        name = f"can{channel}" if isinstance(channel, int) else str(channel)
        index = self.channels.setdefault(name, len(self.channels))
        if index >= MOST_CHANNELS:
            raise InputError(
                self.file, f"has more than {MOST_CHANNELS} different channels", remedy="check the file"
            )
        return index

    def _note_times(self, times: np.ndarray[Any, np.dtype[np.int64]]) -> None:
        before = times[:1] if self._now is None else np.array([self._now], np.int64)
        steps = np.diff(times, prepend=before)
        back = np.flatnonzero(steps < 0)
        if len(back):
            if not self._back[0]:
                self._back[1] = self.frames + int(back[0]) + 1
            self._back[0] += len(back)
            self._back[2] = max(self._back[2], -int(steps.min()))
        self._now = int(times[-1])

    def close(self) -> None:
        """Closes the file."""
        self._source.close()

    def _remedy(self) -> str:
        return _REMEDY.get(self._suffix, "export it again, or as a candump log")

    def _no_frame(self) -> InputError:
        if self._source.fault:
            return InputError(
                self.file, f"{self._source.fault.text}; no frame before that", remedy="copy it again"
            )
        named = self._lines.skipped[:1] if self._lines else self._refused[:1]
        where = f"line {named[0].line}" if named and self._lines else ""
        why = f"; {REASONS[named[0].reason]}: “{named[0].text}”" if named else ""
        return InputError(
            self.file, f"no frame as {self._form.name}{why}", where=where, remedy=self._remedy()
        )

    def warnings(self) -> tuple[str, ...]:
        """What a person should know, in a fixed order."""
        found = []
        if self._lines and self._lines.skipped_count:
            found.append(skipped_warning(self._lines.skipped_count, self._lines.number, self._lines.skipped))
        if self._refused_count:
            found.append(
                skipped_warning(
                    self._refused_count, self.frames + self._refused_count, self._refused, "record"
                )
            )
        if self._stopped:
            found.append(self._stopped)
        if self._source.fault:
            found.append(f"{self._source.fault.text}: only what comes before that was read")
        elif self._lines and self._lines.unfinished:
            found.append(
                f"line {self._lines.number}, the last one, has no line end: it may have been cut off"
            )
        found += [f"python-can says: {text}" for text in self._complaints]
        if self._unnamed:
            found.append("frames name no channel: the channel is called can0 here")
        if self._is_relative():
            found.append(_RELATIVE)
        if self._back[0]:
            found.append(steps_back_warning(self._back[0], f"frame {self._back[1]:,}", self._back[2]))
        return tuple(found)

    def _is_relative(self) -> bool:
        """asc counts from its start (its date has no zone); trc and blf do if they have no start time."""
        name = self._form.name
        return (
            name == "asc"
            or (name == "trc" and self._reader.start_time is None)
            or (name == "blf" and not self._reader.start_timestamp)
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


def _expected(message: Message, name: str) -> int:
    """How many bytes the data must have at least. trc gives the length code also of CAN FD frames."""
    if not message.is_fd:
        return min(message.dlc, 8)
    if name == "trc":
        from can.util import dlc2len

        return int(dlc2len(message.dlc))
    return int(message.dlc)


def _length(message: Message) -> int:
    if message.is_remote_frame and not message.is_fd:
        return min(int(message.dlc), 8)
    return len(message.data)


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
