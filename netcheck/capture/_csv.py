"""Captures as CSV, whose first line names the columns.

Any order of columns; comma, semicolon or tab between them; the data in one column or a column a byte. The
unit of the time, and whether ids and data are hexadecimal, are what the caller says, else what the header
says, else what the first rows leave no doubt of, which is told; where they leave one, that is an error that
asks. Data that do not fit the length column are no frame.
"""

from __future__ import annotations

import csv
import re
from base64 import b64decode
from binascii import Error as Base64Error
from collections.abc import Iterator, Mapping
from typing import Final, NamedTuple

from netcheck.capture import _csv_guess as guess
from netcheck.capture._capture import BRS, ERROR, ESI, EXTENDED, FD, REMOTE
from netcheck.capture._chunks import ByteSource
from netcheck.capture._codes import BAD_DATA, BAD_LENGTH, BAD_NUMBER, BAD_TIME, FEW_COLUMNS
from netcheck.capture._csv_columns import UNITS, CsvHeader, read_header, separator_of
from netcheck.capture._ledger import RELATIVE, UNNAMED
from netcheck.capture._lines import Lines
from netcheck.capture._records import MOST_NS, FrameRecord
from netcheck.errors import InputError

_SAMPLE: Final = 500  # rows that are looked at before the first is read
_EPOCH_NS: Final = 100_000_000 * 1_000_000_000  # a clock below that counts from the start of the recording
_TIME: Final = re.compile(r"(-?)(\d{1,19})(?:[.,](\d+))?(?:[eE]([+-]?\d{1,2}))?")
_NOT_HEX: Final = re.compile(r"0x|[\s:.,_-]", re.IGNORECASE)
_TRUE: Final = frozenset(
    {"1", "true", "yes", "y", "t", "x", "ext", "extended", "rtr", "remote", "29", "29-bit"}
)
_MORE: Final = "name the columns in the first line: time, id, extended, length, data (or d0 to d7), channel"


class Layout(NamedTuple):
    """How the values of the rows are read."""

    header: CsvHeader
    unit_ns: int
    id_base: int
    data_base: int  # 64 for base64
    is_comma_decimal: bool


class CsvReader:
    """A CSV file as a ``RecordReader``. ``hints``: as of ``read_csv_hints``."""

    name = "csv"
    last = ""

    def __init__(self, source: ByteSource, hints: Mapping[str, str]) -> None:
        self._lines = Lines(source, lambda _text, _number: False)
        self.lines: Lines | None = self._lines
        self._file = source.file
        self._hints = hints
        self._said: list[str] = []
        self._first_ns: int | None = None
        self._unnamed = False
        self._long = 0

    def records(self) -> Iterator[FrameRecord | int]:
        """Frames, and why other rows are none."""
        lines = self._lines
        line = next(lines, "")
        lines.used()
        separator = separator_of(line)
        header = read_header(_cells(line, separator) or [])
        if header.lacks:
            raise InputError(
                self._file, f"the header names no column for {header.lacks}", where="line 1", remedy=_MORE
            )
        ahead = _Ahead(lines, separator)
        layout = self._layout(header, [cells for cells in ahead.sample if cells], separator)
        self._unnamed = "channel" not in header.places
        for cells in ahead:
            if cells is None:
                lines.used()
                continue
            record = self._record(cells, layout)
            if not isinstance(record, int):
                lines.used()
            yield record

    def _layout(self, header: CsvHeader, sample: list[list[str]], separator: str) -> Layout:
        try:
            found = guess.Guess(header, self._hints, sample)
        except guess.Open as question:
            raise InputError(self._file, question.what, where="line 1", remedy=question.remedy) from None
        self._said = found.said
        if header.unread:
            self._said.append(f"columns that are not read: {', '.join(header.unread)}")
        return Layout(
            header, UNITS[found.unit], found.id_base, found.data_base, is_comma_decimal=separator != ","
        )

    def _record(self, cells: list[str], layout: Layout) -> FrameRecord | int:
        row = _Row(cells, layout)
        try:
            record = row.record()
        except _Fault as fault:
            return fault.reason
        if record.time_ns is not None and self._first_ns is None:
            self._first_ns = record.time_ns
        self._long += (
            "fd" not in layout.header.places and bool(record.flags & FD) and len(record.payload) <= 64
        )
        return record

    def remedy(self) -> str:
        """What to do about a file that cannot be read."""
        return _MORE

    def remarks(self) -> list[str]:
        """How the columns were taken."""
        found = list(self._said)
        if self._unnamed:
            found.append(UNNAMED)
        if self._long:
            found.append(f"frames of more than 8 bytes are taken for CAN FD, {self._long:,} of them")
        if self._first_ns is not None and self._first_ns < _EPOCH_NS:
            found.append(RELATIVE)
        return found


class _Ahead:
    """Rows as cells, the first of them looked at beforehand; None for a blank line.

    Lines keep their numbers: ``Lines`` is moved on only as rows are handed out.
    """

    def __init__(self, lines: Lines, separator: str) -> None:
        self._lines = lines
        self._separator = separator
        self.sample = [_cells(line, separator) for line in lines.peek(_SAMPLE)]

    def __iter__(self) -> Iterator[list[str] | None]:
        for line in self._lines:
            yield _cells(line, self._separator)


class _Fault(Exception):  # noqa: N818 - ends the reading of one row
    def __init__(self, reason: int) -> None:
        self.reason = reason
        super().__init__(reason)


class _Row:
    """The values of one row. Each method raises _Fault where its cell cannot be read."""

    def __init__(self, cells: list[str], layout: Layout) -> None:
        self._cells = cells
        self._layout = layout
        self._places = layout.header.places

    def record(self) -> FrameRecord:
        """The row as a frame, not checked yet."""
        flags = self._flags()
        can_id, is_wide = self._id()
        flags |= EXTENDED if is_wide and not flags & ERROR else 0
        data = self._data()
        length = self._length(len(data), flags)
        if "fd" not in self._places and len(data) > 8 and not flags & (REMOTE | ERROR):
            flags |= FD
        if flags & REMOTE:
            data = b""
        return FrameRecord(self._time(), can_id, flags, self._channel(), length, data)

    def _cell(self, column: str) -> str:
        place = self._places.get(column, -1)
        if place >= len(self._cells):
            raise _Fault(FEW_COLUMNS)
        return self._cells[place].strip() if place >= 0 else ""

    def _is(self, column: str) -> bool:
        return self._cell(column).lower() in _TRUE

    def _flags(self) -> int:
        flags = 0
        for column, flag in (("remote", REMOTE), ("error", ERROR), ("fd", FD), ("brs", BRS), ("esi", ESI)):
            flags |= flag if self._is(column) else 0
        if flags & ERROR:
            return ERROR
        return flags if flags & FD else flags & ~(BRS | ESI)

    def _time(self) -> int | None:
        if "time" not in self._places:
            return None
        return time_of(self._cell("time"), self._layout.unit_ns)

    def _id(self) -> tuple[int, bool]:
        text = self._cell("id")
        marked = text[-1:] in {"x", "X"} and text[:2] not in {"0x", "0X"}
        can_id = _number(text[:-1] if marked else text, self._layout.id_base)
        if "extended" in self._places:
            return can_id, marked or self._is("extended")
        return can_id, marked or can_id > 0x7FF

    def _length(self, size: int, flags: int) -> int:
        if "length" not in self._places:
            return 0 if flags & REMOTE else size
        text = self._cell("length")
        if not text.isascii() or not text.isdigit() or len(text) > 3:
            raise _Fault(BAD_LENGTH)
        length = int(text)
        return size if flags & ERROR and not size else length

    def _data(self) -> bytes:
        header, base = self._layout.header, self._layout.data_base
        if header.bytes_at:
            return self._separate(base)
        text = self._cell("data")
        if base == 64:
            try:
                return b64decode(text, validate=True)
            except (Base64Error, ValueError) as error:
                raise _Fault(BAD_DATA) from error
        if base == 10:
            return _bytes([_number(word, 10) for word in re.split(r"[\s:.,_-]+", text) if word])
        return hex_bytes_of(text)

    def _separate(self, base: int) -> bytes:
        values = []
        for place in self._layout.header.bytes_at:
            text = self._cells[place].strip() if place < len(self._cells) else ""
            if not text:
                break
            values.append(_number(text, base))
        rest = self._layout.header.bytes_at[len(values) :]
        if any(self._cells[place].strip() for place in rest if place < len(self._cells)):
            raise _Fault(BAD_DATA)
        return _bytes(self._as_long_as_said(values))

    def _as_long_as_said(self, values: list[int]) -> list[int]:
        """Zeros behind the length are cells that the recorder filled up; anything else is not."""
        text = self._cell("length")
        said = int(text) if text.isascii() and text.isdigit() and len(text) < 3 else len(values)
        return values if any(values[said:]) else values[:said]

    def _channel(self) -> str:
        text = "-".join(self._cell("channel").split())
        if not text:
            return "can0"
        return f"can{int(text)}" if text.isascii() and text.isdigit() and len(text) < 4 else text


def _cells(line: str, separator: str) -> list[str] | None:
    if not line.strip() or line.lstrip().startswith(("#", "//")):
        return None
    try:
        return next(csv.reader([line], delimiter=separator), None)
    except csv.Error:
        return [line]


def time_of(text: str, unit_ns: int) -> int:
    """A number of units as ns, what is below 1 ns cut off.

    Raises _Fault for another text, or a time too large.
    """
    match = _TIME.fullmatch(text)
    if not match:
        raise _Fault(BAD_TIME)
    fraction = (match[3] or "")[:30]
    power = int(match[4] or 0) - len(fraction)
    digits = int(match[2] + fraction) * unit_ns
    time_ns: int = digits * 10**power if power >= 0 else digits // 10**-power
    if time_ns > MOST_NS:
        raise _Fault(BAD_TIME)
    return -time_ns if match[1] else time_ns


def hex_bytes_of(text: str) -> bytes:
    """Hex pairs, with anything usual between them. Raises _Fault for another text."""
    words = _NOT_HEX.sub(" ", text).split()
    try:
        if len(words) > 1:
            return bytes.fromhex("".join(word.zfill(2) for word in words))
        return bytes.fromhex("".join(words))
    except ValueError as error:
        raise _Fault(BAD_DATA) from error


def _number(text: str, base: int) -> int:
    digits = text.lower().removeprefix("0x") if base == 16 else text
    if not digits.isascii() or not digits.isalnum() or len(digits) > 10:
        raise _Fault(BAD_NUMBER)
    try:
        return int(digits, base)
    except ValueError as error:
        raise _Fault(BAD_NUMBER) from error


def _bytes(values: list[int]) -> bytes:
    try:
        return bytes(values)
    except ValueError as error:
        raise _Fault(BAD_DATA) from error
