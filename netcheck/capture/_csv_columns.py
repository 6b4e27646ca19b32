"""What the columns of a CSV file are, by the names in its first line, and what a person says of them."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Final

from netcheck.errors import UsageError
from netcheck.records import dataclass

UNITS: Final = {"s": 1_000_000_000, "ms": 1_000_000, "us": 1_000, "ns": 1}
NUMBERS: Final = ("hex", "dec")
CSV_KEYS: Final = {"time": tuple(UNITS), "id": NUMBERS, "data": NUMBERS}
PYTHON_CAN: Final = ("timestamp", "arbitration_id", "extended", "remote", "error", "dlc", "data")

# column: names that it goes by, without blanks, marks and units
_NAMES: Final = {
    "time": "time timestamp stamp t abstime timeabs relativetime timeoffset offset",
    "id": "id canid arbitrationid identifier messageid msgid frameid arbid addr address",
    "extended": "extended ext isextended isextendedid ide xtd eff idtype",
    "remote": "remote rtr isremote isremoteframe",
    "error": "error err iserror iserrorframe",
    "fd": "fd isfd canfd edl fdf",
    "brs": "brs bitrateswitch",
    "esi": "esi errorstateindicator",
    "length": "dlc len length dl size datalength bytes nbytes datalen bytecount numbytes",
    "data": "data payload databytes content",
    "channel": "channel ch bus chan interface busid port network",
    "direction": "dir direction rxtx txrx isrx",
}
_COLUMN_OF: Final = {name: column for column, names in _NAMES.items() for name in names.split()}
_BYTE: Final = re.compile(r"(?:d|b|data|byte|databyte)(\d{1,2})")
_UNIT: Final = re.compile(
    r"(.*?)(s|sec|secs|seconds?|ms|msec|milliseconds?|us|µs|μs|usec|microseconds?|ns|nanoseconds?)"
)
_BASE: Final = re.compile(r"(.*?)(hex|hexadecimal|dec|decimal)")
_UNIT_OF: Final = {"s": "s", "m": "us", "u": "us", "µ": "us", "μ": "us", "n": "ns"}  # m of microseconds


def read_csv_hints(text: str) -> dict[str, str]:
    """``time=ms,id=hex,data=dec`` as a table; empty for no text. Raises UsageError for anything else."""
    hints = {}
    for part in text.split(",") if text.strip() else ():
        key, equals, value = (word.strip().lower() for word in part.partition("="))
        if value == "µs":
            value = "us"
        if not equals or key not in CSV_KEYS or value not in CSV_KEYS[key]:
            known = "; ".join(f"{key}={'|'.join(values)}" for key, values in CSV_KEYS.items())
            raise UsageError(
                f"{part.strip()!r} says nothing of the columns of a CSV file", remedy=f"write {known}"
            )
        hints[key] = value
    return hints


@dataclass(frozen=True)
class CsvHeader:
    """Places of the columns in a row, and what the header says of them.

    places:    column name (a key of ``_NAMES``) to its place; without those that there are none of
    bytes_at:  places of the data bytes, the first byte first, where each has a column of its own
    unit, id_base, data_base: as the header says; "" where it does not
    is_base64: the columns are those of python-can, whose data are base64
    unread:    titles of columns that mean nothing here
    """

    places: Mapping[str, int]
    bytes_at: tuple[int, ...]
    unit: str = ""
    id_base: str = ""
    data_base: str = ""
    is_base64: bool = False
    unread: tuple[str, ...] = ()

    @property
    def lacks(self) -> str:
        """What a capture cannot do without, and the header has no name for; "" if nothing."""
        missing = [] if "id" in self.places else ["the id"]
        if "data" not in self.places and not self.bytes_at:
            missing.append("the data")
        return " and ".join(missing)


def separator_of(line: str) -> str:
    """The character between the columns of a header."""
    return max((",", ";", "\t"), key=line.count)


def read_header(titles: Sequence[str]) -> CsvHeader:
    """The columns by their titles; of two with the same meaning the first counts."""
    places: dict[str, int] = {}
    byte_places: dict[int, int] = {}
    said = {"time": "", "id": "", "data": ""}
    unread = []
    for place, title in enumerate(titles):
        name = _plain(title)
        number = _BYTE.fullmatch(_BASE.sub(r"\1", name) if name.endswith(("hex", "dec")) else name)
        if number:
            byte_places.setdefault(int(number[1]), place)
            said["data"] = said["data"] or _said(name, _BASE, "data")
            continue
        column, word = _column(name)
        if column and column not in places:
            places[column] = place
            if column in said:
                said[column] = word
        elif name:
            unread.append(title.strip())
    numbers = sorted(byte_places)
    is_run = (
        bool(numbers) and numbers == list(range(numbers[0], numbers[0] + len(numbers))) and numbers[0] < 2
    )
    return CsvHeader(
        places,
        tuple(byte_places[number] for number in numbers) if is_run and "data" not in places else (),
        unit=said["time"],
        id_base=said["id"],
        data_base=said["data"],
        is_base64=tuple(title.strip() for title in titles) == PYTHON_CAN,
        unread=tuple(unread),
    )


def _plain(title: str) -> str:
    """A title without blanks, marks and capitals."""
    return "".join(character for character in title.strip().lower() if character.isalnum())


def _column(name: str) -> tuple[str, str]:
    """Which column a plain title is, and the unit or base in it; "" where there is none."""
    if name in _COLUMN_OF:
        return _COLUMN_OF[name], ""
    for pattern in (_UNIT, _BASE):
        match = pattern.fullmatch(name)
        if match and match[1] in _COLUMN_OF:
            column = _COLUMN_OF[match[1]]
            if column in (("time",) if pattern is _UNIT else ("id", "data")):
                return column, _said(name, pattern, column)
    return "", ""


def _said(name: str, pattern: re.Pattern[str], column: str) -> str:
    match = pattern.fullmatch(name)
    if not match:
        return ""
    if column != "time":
        return match[2][:3]
    return "ms" if match[2].startswith(("ms", "mil")) else _UNIT_OF[match[2][0]]
