"""Texts with a frame a line that are not candump's: known by their first lines, read line by line.

- lines of a serial adapter in ASCII: ``t1238…`` ``T…`` ``r…`` ``R…``, with a time before or behind, or none
- python-can's printed messages
- ``12.345678  123: 11 22 33``
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from typing import Final, NamedTuple

from netcheck.capture._capture import BRS, ERROR, ESI, EXTENDED, FD, REMOTE
from netcheck.capture._chunks import ByteSource
from netcheck.capture._codes import BAD_DATA, BAD_TIME, WRONG_COUNT
from netcheck.capture._ledger import DATED, RELATIVE, UNNAMED
from netcheck.capture._lines import Lines
from netcheck.capture._records import MOST_NS, FrameRecord

_LOOKED_AT: Final = 100  # lines
_EPOCH_NS: Final = 100_000_000 * 1_000_000_000
_DAY_NS: Final = 86_400 * 1_000_000_000
_WRAP_NS: Final = 60_000 * 1_000_000  # a serial adapter's clock begins anew after a minute
_STAMP: Final = (
    r"[(\[]?\s*(?:(?P<date>\d{4}-\d\d-\d\d)[ T])?(?:(?P<clock>\d\d:\d\d:\d\d)|(?P<seconds>\d{1,10}))"
    r"[.,](?P<fraction>\d{1,9})\s*[)\]]?"
)
_SERIAL: Final = re.compile(
    r"(?:" + _STAMP + r"\s+)?(?:(?P<channel>[^\s#]{1,64})\s+)?"
    r"(?:(?P<kind>[tr])(?P<id>[0-9A-Fa-f]{3})|(?P<wide>[TR])(?P<wide_id>[0-9A-Fa-f]{8}))"
    r"(?P<length>[0-9A-Fa-f])(?P<data>[0-9A-Fa-f]*)"
)
_PRINTED: Final = re.compile(
    r"Timestamp:\s*(?P<sign>-?)(?P<seconds>\d{1,10})\.(?P<fraction>\d{1,9})\s+ID:\s*(?P<id>[0-9A-Fa-f]{1,8})\s+"
    r"(?P<wide>[XS])\s+(?P<way>Rx|Tx)\s(?P<flags>[ERFBSI ]*)DL:\s*(?P<length>\d{1,2})"
    r"(?P<data>(?:\s+[0-9a-fA-F]{2}(?=\s|$))*)"
    r"(?:\s+'.*')?(?:\s+Channel:\s*(?P<channel>\S.*))?"
)
_STAMPED: Final = re.compile(
    _STAMP + r"\s+(?:(?P<channel>[^\s:#]{1,64})\s+)?(?:0[xX])?(?P<id>[0-9A-Fa-f]{1,8})\s*:\s*"
    r"(?P<data>(?:[0-9A-Fa-f]{2}[\s.,-]*)*)(?:[#;].*|//.*)?"
)


class _Form(NamedTuple):
    name: str
    pattern: re.Pattern[str]
    record: Callable[[TextFormReader, re.Match[str]], FrameRecord | int]


class TextFormReader:
    """Lines of one of these forms as a ``RecordReader``."""

    last = ""

    def __init__(self, source: ByteSource, form: str) -> None:
        self._form = _FORMS[form]
        self.name = self._form.name
        self._lines = Lines(source, _is_quiet)
        self.lines: Lines | None = self._lines
        self._first_ns: int | None = None
        self._is_dated = False
        self._turn_ns = 0  # what a serial adapter's clock, or the day, has gone round
        self._now_ns = 0
        self._unnamed = False

    def records(self) -> Iterator[FrameRecord | int]:
        """Frames, and why other lines are none."""
        for line in self._lines:
            match = self._form.pattern.fullmatch(line.strip())
            if not match:
                continue
            record = self._form.record(self, match)
            if isinstance(record, FrameRecord):
                self._lines.used()
                if self._first_ns is None:
                    self._first_ns = record.time_ns
            yield record

    def remedy(self) -> str:
        """What to do about a file that cannot be read."""
        return "record it again as a candump log"

    def remarks(self) -> list[str]:
        """How the lines were taken."""
        found = [f"read as {self.name}"]
        if self._form.name == _FORMS["stamped"].name:
            found.append("ids are taken as hexadecimal")
        if self._unnamed:
            found.append(UNNAMED)
        if self._is_dated:
            found.append(DATED)
        elif self._first_ns is not None and self._first_ns < _EPOCH_NS:
            found.append(RELATIVE)
        return found

    def channel(self, text: str | None) -> str:
        """The name of a channel; can0 where the line has none."""
        if text is None:
            self._unnamed = True
            return "can0"
        name = "-".join(text.split())
        return f"can{int(name)}" if name.isascii() and name.isdigit() and len(name) < 4 else name

    def stamp(self, match: re.Match[str]) -> int | None:
        """ns of a line's stamp, None for a date or a time of day that is none."""
        fraction = int(match["fraction"].ljust(9, "0"))
        if match["seconds"]:
            return int(match["seconds"]) * 1_000_000_000 + fraction
        try:
            moment = datetime.fromisoformat(f"{match['date'] or '1970-01-01'}T{match['clock']}")
        except ValueError:
            return None
        time_ns = int(moment.replace(tzinfo=UTC).timestamp()) * 1_000_000_000 + fraction
        if match["date"]:
            self._is_dated = True
            return time_ns
        return self.unwound(time_ns, _DAY_NS)

    def unwound(self, time_ns: int, round_ns: int) -> int:
        """A clock that begins anew as one that goes on: a step back over half of its round is a turn."""
        if time_ns + self._turn_ns < self._now_ns - round_ns // 2:
            self._turn_ns += round_ns
        self._now_ns = max(self._now_ns, time_ns + self._turn_ns)
        return time_ns + self._turn_ns


def _serial(reader: TextFormReader, match: re.Match[str]) -> FrameRecord | int:
    letter, digits = match["kind"] or match["wide"], match["id"] or match["wide_id"]
    length = min(int(match["length"], 16), 8)
    if int(match["length"], 16) > 8:
        return WRONG_COUNT
    flags = (EXTENDED if letter.isupper() else 0) | (REMOTE if letter in "rR" else 0)
    size = 0 if flags & REMOTE else 2 * length
    data, rest = match["data"][:size], match["data"][size:]
    if len(data) != size or len(rest) not in {0, 4}:
        return WRONG_COUNT
    time_ns: int | None = None
    if match["fraction"]:
        time_ns = reader.stamp(match)
        if time_ns is None:
            return BAD_TIME
    elif rest:
        milliseconds = int(rest, 16)
        if milliseconds >= 60_000:
            return BAD_TIME
        time_ns = reader.unwound(milliseconds * 1_000_000, _WRAP_NS)
    return FrameRecord(
        time_ns, int(digits, 16), flags, reader.channel(match["channel"]), length, bytes.fromhex(data)
    )


def _printed(reader: TextFormReader, match: re.Match[str]) -> FrameRecord | int:
    marks = match["flags"].split()
    flags = EXTENDED if match["wide"] == "X" else 0
    if "E" in marks:
        flags = ERROR
    elif "F" in marks:
        flags |= FD | (BRS if "BS" in marks else 0) | (ESI if "EI" in marks else 0)
    elif "R" in marks:
        flags |= REMOTE
    time_ns = int(match["seconds"]) * 1_000_000_000 + int(match["fraction"].ljust(9, "0"))
    data = bytes.fromhex(match["data"]) if match["data"].strip() else b""
    length = int(match["length"])
    if flags & ERROR:
        length = len(data)
    elif not flags & (FD | REMOTE):
        length = min(length, 8)
    return FrameRecord(
        -time_ns if match["sign"] else time_ns,
        int(match["id"], 16),
        flags,
        reader.channel(match["channel"]),
        length,
        data,
    )


def _stamped(reader: TextFormReader, match: re.Match[str]) -> FrameRecord | int:
    time_ns = reader.stamp(match)
    if time_ns is None or time_ns > MOST_NS:
        return BAD_TIME
    try:
        data = bytes.fromhex(re.sub(r"[\s.,-]", "", match["data"]))
    except ValueError:
        return BAD_DATA
    can_id = int(match["id"], 16)
    flags = EXTENDED if can_id > 0x7FF or len(match["id"]) == 8 else 0
    flags |= FD if len(data) > 8 else 0
    return FrameRecord(time_ns, can_id, flags, reader.channel(match["channel"]), len(data), data)


_FORMS: Final = {
    "serial": _Form("lines of a serial adapter", _SERIAL, _serial),
    "printed": _Form("python-can's printed messages", _PRINTED, _printed),
    "stamped": _Form("lines of time, id and bytes", _STAMPED, _stamped),
}


def _is_quiet(text: str, _: int) -> bool:
    """Comments, and a serial adapter's answers that something was done."""
    return text.startswith(("#", ";", "//")) or text in {"z", "Z", "\a"}


def text_form(head: bytes) -> str:
    """The form that most of the first lines have; "" for none. Whether they are candump's is not asked."""
    lines = head.decode("utf-8", "replace").splitlines()[:_LOOKED_AT]
    found = {
        name: sum(1 for line in lines if form.pattern.fullmatch(line.strip()))
        for name, form in _FORMS.items()
    }
    best = max(found, key=lambda name: found[name])
    return best if found[best] else ""
