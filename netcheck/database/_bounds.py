"""Numbers in a DBC text that no bus has, refused before cantools makes lists of that length of them."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import field
from decimal import Decimal, InvalidOperation
from typing import Final

from netcheck.database._text import DbcEntry, DbcText
from netcheck.errors import InputError
from netcheck.records import dataclass

LARGEST: Final = 32 << 20  # bytes of a DBC file
_LONGEST: Final = 65_535  # bytes of a message; no transport protocol in use carries more
_MOST_PAGES: Final = 1 << 16  # in one range
_MOST_PAGES_IN_ALL: Final = 1 << 22
_MOST_WORDS: Final = 8_000_000
_MOST_NAMES: Final = 4096  # that one BO_TX_BU_ entry lists; cantools compares each with all others
_MOST_STEPS: Final = 500_000  # of about 50 µs each, in which cantools works out pages
_MOST_DIGITS: Final = 500  # of a number; cantools makes whole numbers of attributes, however long

_WORD: Final = re.compile(r"\w+|[^\s\w]", re.ASCII)
_MAYBE_LONG: Final = re.compile(r"[eE][-+]?[\d_]{3,}|(?<![\d_.])[\d_.]{500,}")
_NUMBER: Final = re.compile(r"[-+]?\d++(?:\.\d*+)?(?:[eE][-+]?\d++)?", re.ASCII)  # as cantools has it
_MESSAGE: Final = re.compile(r"BO_\s*+[-+]?\d++\s*+(\w++)\s*+:\s*+([-+]?\d++)", re.ASCII)
_ID: Final = re.compile(r"(?:BO_|VAL_|SG_MUL_VAL_|BO_TX_BU_)\s*+[-+]?(\d++)", re.ASCII)
_SIGNAL: Final = re.compile(
    r"SG_\s*+(\w++)(?:\s++(\w++))?\s*+:\s*+([-+]?\d++)\s*+\|\s*+([-+]?\d++)", re.ASCII
)
_LABELS: Final = re.compile(r"VAL_\s*+[-+]?\d++\s*+(\w++)", re.ASCII)
_PAGES: Final = re.compile(r"SG_MUL_VAL_\s*+[-+]?\d++\s*+(\w++)\s++(\w++)", re.ASCII)


@dataclass
class _Paged:
    """What of a message decides how long cantools works on its pages.

    length:   bytes
    marked:   signal -> its marker, such as ``m3`` or ``M``
    ranges:   multiplexer -> signal -> how many pages of it SG_MUL_VAL_ gives to the signal
    labelled: multiplexer -> how many labels it has; each is a page, too
    senders:  how many more BO_TX_BU_ names
    """

    line: int
    name: str
    length: int
    marked: dict[str, str] = field(default_factory=dict)
    ranges: dict[str, dict[str, int]] = field(default_factory=dict)
    labelled: dict[str, int] = field(default_factory=dict)
    senders: int = 0


def check_bounds(dbc: DbcText, file: str) -> None:
    """Refuse a text that would take minutes or gigabytes.

    Raises InputError with the line of the first number that is too large.
    """
    if len(dbc.bare) > _MOST_WORDS and sum(1 for _ in _WORD.finditer(dbc.bare)) > _MOST_WORDS:
        raise InputError(file, f"has more than {_MOST_WORDS:,} words", remedy="give the DBC of one network")
    messages: defaultdict[str, list[_Paged]] = defaultdict(list)
    elsewhere: list[DbcEntry] = []
    signals: dict[str, str] = {}
    for entry in dbc.entries():
        if entry.keyword == "BO_" and (found := _MESSAGE.match(dbc.bare, entry.start, entry.end)):
            length = _within(dbc, file, entry, found[2], _LONGEST, f"message {found[1]}", "bytes")
            message = _Paged(dbc.line(entry.start), found[1], length)
            messages[_id(dbc, entry)].append(message)
            signals = message.marked
        elif entry.keyword == "SG_" and (found := _SIGNAL.match(dbc.bare, entry.start, entry.end)):
            _within(dbc, file, entry, found[3], 8 * _LONGEST, f"signal {found[1]}", "as its start bit")
            _within(dbc, file, entry, found[4], 8 * _LONGEST, f"signal {found[1]}", "bits")
            if found[2]:
                signals[found[1]] = found[2]
        else:
            elsewhere.append(entry)
    _add_entries(dbc, file, elsewhere, messages)
    _check_digits(dbc, file)
    steps = 0
    for message in (message for same_id in messages.values() for message in same_id):
        steps += _steps(message)
        if steps > _MOST_STEPS:
            what = f"message {message.name} and those before it have too many pages to work out"
            raise _refusal(file, message.line, what)


def _check_digits(dbc: DbcText, file: str) -> None:
    if not _MAYBE_LONG.search(dbc.text):
        return
    for place, number in _numbers(dbc):
        if _MAYBE_LONG.search(number) and _digits(number) > _MOST_DIGITS:
            what = f"number {number.strip()[:20]} has more than {_MOST_DIGITS} digits"
            raise _refusal(file, dbc.line(place), what)


def _numbers(dbc: DbcText) -> Iterator[tuple[int, str]]:
    """What cantools may read as a number: bare ones, and strings, since attributes may have both."""
    yield from ((found.start(), found[0]) for found in _NUMBER.finditer(dbc.bare))
    yield from dbc.strings()


def _digits(number: str) -> int:
    """Digits before the decimal point; 0 for what is no number."""
    try:
        read = Decimal(number)
    except InvalidOperation:
        return 0
    return read.adjusted() + 1 if read.is_finite() else 0


def _add_entries(
    dbc: DbcText, file: str, entries: list[DbcEntry], messages: defaultdict[str, list[_Paged]]
) -> None:
    """What is said of messages elsewhere: ranges of pages, labels, senders."""
    in_all = 0
    for entry in entries:
        same_id = messages.get(_id(dbc, entry), ())
        if entry.keyword == "SG_MUL_VAL_" and (found := _PAGES.match(dbc.bare, entry.start, entry.end)):
            count = _range_pages(dbc, file, entry, found.end())
            in_all += count
            if in_all > _MOST_PAGES_IN_ALL:
                what = f"page ranges have more than {_MOST_PAGES_IN_ALL:,} pages in all"
                raise _refusal(file, dbc.line(entry.start), what)
            for message in same_id:
                message.ranges.setdefault(found[2], {})[found[1]] = count
        elif entry.keyword == "VAL_" and (found := _LABELS.match(dbc.bare, entry.start, entry.end)):
            for message in same_id:
                message.labelled[found[1]] = dbc.bare.count('"', entry.start, entry.end) // 2
        elif entry.keyword == "BO_TX_BU_":
            for message in same_id:
                message.senders += dbc.bare.count(",", entry.start, entry.end) + 1
                if message.senders > _MOST_NAMES:
                    what = f"message {message.name} has more than {_MOST_NAMES:,} senders"
                    raise _refusal(file, dbc.line(entry.start), what)


def _range_pages(dbc: DbcText, file: str, entry: DbcEntry, start: int) -> int:
    """How many pages the ranges of a SG_MUL_VAL_ entry have; they begin at ``start``."""
    end = dbc.bare.find(";", start, entry.end)
    numbers = [found[0] for found in _NUMBER.finditer(dbc.bare, start, end if end >= 0 else entry.end)]
    count = 0
    for first, last in zip(numbers[::2], numbers[1::2], strict=False):
        here = _bounded(last[1:]) - _bounded(first) + 1
        if max(len(first), len(last)) > 12 or here > _MOST_PAGES:
            what = f"page range {first[:20]}-{last[1:21]} is longer than {_MOST_PAGES:,} pages"
            raise _refusal(file, dbc.line(entry.start), what)
        count += max(here, 0)
    return count


def _steps(message: _Paged) -> int:
    """How long cantools works on a message's pages: codecs, and signals that it puts into each."""
    multiplexers = [name for name, marker in message.marked.items() if marker.endswith("M")]
    parents = {name: multiplexer for multiplexer, below in message.ranges.items() for name in below}
    if len(multiplexers) == 1:
        parents = dict.fromkeys(message.marked, multiplexers[0])
        del parents[multiplexers[0]]
    children: defaultdict[str, dict[str, int]] = defaultdict(dict)
    for name, marker in message.marked.items():
        if multiplexer := parents.get(name):
            listed = message.ranges.get(multiplexer, {}).get(name, 0)
            children[multiplexer][name] = listed + (not marker.endswith("M"))
    effort = message.length >> 9
    steps = effort
    todo = [(name, 1) for name in multiplexers if name not in parents]
    while todo:
        name, times = todo.pop()
        below = children[name]
        pages = sum(below.values())
        codecs = pages + message.labelled.get(name, 0)
        steps += times * (codecs * (2 + effort) + codecs * len(below) // 300 + pages)
        if steps > _MOST_STEPS:
            break
        todo += [(child, times * below[child]) for child in below if child in children]
    return steps


def _within(dbc: DbcText, file: str, entry: DbcEntry, number: str, most: int, subject: str, what: str) -> int:
    value = _bounded(number)
    if not 0 <= value <= most:
        told = f"{subject[:80]} has {number[:20]} {what}, the most is {most:,}"
        raise _refusal(file, dbc.line(entry.start), told)
    return value


def _bounded(number: str) -> int:
    """The number, or one that is too large for anything; -1 for one that is no whole number."""
    if len(number) > 12:
        return 1 << 40
    try:
        return int(number)
    except ValueError:
        return -1


def _id(dbc: DbcText, entry: DbcEntry) -> str:
    found = _ID.match(dbc.bare, entry.start, entry.end)
    return found[1].lstrip("0") if found else ""


def _refusal(file: str, line: int, what: str) -> InputError:
    return InputError(
        file, what, where=f"line {line}", remedy="correct it in a copy of the file and use the copy"
    )
