"""What cantools refuses though it can be meant in one way only, put right in memory and told."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator, Mapping
from typing import Final

from netcheck.database._model import DbcRepair, RepairKind
from netcheck.database._text import DbcText
from netcheck.records import dataclass

_FLAG: Final = 1 << 31  # of a 29-bit id, as a DBC writes it
_STANDARD: Final = 0x7FF
_EXTENDED: Final = 0x1FFF_FFFF
_DIGITS: Final = 10  # of an id
_PSEUDO: Final = "VECTOR__INDEPENDENT_SIG_MSG"  # how the format writes "signals without a message"

_MESSAGE: Final = re.compile(r"BO_\s+(\d+)\s+(\w+)\s*:", re.ASCII)
_SIGNAL: Final = re.compile(r"SG_\s+(\w+)(?:\s+\w+)?\s*:", re.ASCII)
_REFERENCE: Final = re.compile(
    r"(?<![A-Za-z_])(?:(?:BO_|SG_|VAL_|SG_MUL_VAL_|SIG_VALTYPE_|BO_TX_BU_|SIG_GROUP_)|BU_BO_REL_\s+\w+)\s+"
    r"(\d{4,10})(?!\w)",
    re.ASCII,
)
_WORD: Final = re.compile(r"\w+", re.ASCII)
_OF_A_SIGNAL: Final = {
    "VAL_": re.compile(r'VAL_\s+(\d{1,10})\s+(\w+)(?!\w)[^;"]*"[^;]*;', re.ASCII),
    "SIG_VALTYPE_": re.compile(r"SIG_VALTYPE_\s+(\d{1,10})\s+(\w+)\s*:[^;]*;", re.ASCII),
}
# A number with an exponent is none, nor is what follows a decimal point.
_DIGIT_NAME: Final = re.compile(r"(?<![\w.])\d+(?![eE][+-]?\d)[A-Za-z_]\w*", re.ASCII)


@dataclass(frozen=True)
class RepairedText:
    """A text that cantools accepts more readily, line for line, and what was done to it.

    names: what stands in it for a name that begins with a digit -> that name
    """

    text: str
    repairs: tuple[DbcRepair, ...]
    names: Mapping[str, str]


def repair(dbc: DbcText, file: str) -> RepairedText:
    """Put right names such as ``2x``, 29-bit ids without their flag, entries on signals not there."""
    named = _digit_names(dbc)
    prefix = _free_prefix(dbc, named)
    repairs = [DbcRepair(RepairKind.DIGIT_NAME, file, line, name) for name, line in named.items()]
    dbc = dbc.changed([(*found.span(), prefix + found[0]) for found in _DIGIT_NAME.finditer(dbc.bare)])
    names = {prefix + name: name for name in named}

    unflagged = _unflagged(dbc)
    for can_id, (message, line) in unflagged.items():
        name = names.get(message, message)
        repairs.append(DbcRepair(RepairKind.NO_EXTENDED_FLAG, file, line, name, can_id=can_id))
    dbc = dbc.changed(
        [
            (*found.span(1), str(int(found[1]) | _FLAG))
            for found in _REFERENCE.finditer(dbc.bare)
            if int(found[1]) in unflagged
        ]
    )

    spans = []
    for keyword, found in _stray(dbc):
        can_id, name = int(found[1]) & ~_FLAG, names.get(found[2], found[2])
        line = dbc.line(found.start())
        repairs.append(DbcRepair(RepairKind.STRAY_ENTRY, file, line, name, keyword, can_id))
        spans.append((*found.span(), "\n" * dbc.text.count("\n", *found.span())))
    return RepairedText(dbc.changed(spans).text, tuple(repairs), names)


def _digit_names(dbc: DbcText) -> dict[str, int]:
    """Names that begin with a digit, each with the line where it comes first."""
    named: dict[str, int] = {}
    for found in _DIGIT_NAME.finditer(dbc.bare):
        named.setdefault(found[0], dbc.line(found.start()))
    return named


def _free_prefix(dbc: DbcText, named: Mapping[str, int]) -> str:
    """What makes those names acceptable, and equal to no name of the file."""
    words = set(_WORD.findall(dbc.text)) if named else set()
    prefix = "_"
    while any(prefix + name in words for name in named):
        prefix += "_"
    return prefix


def _unflagged(dbc: DbcText) -> dict[int, tuple[str, int]]:
    """Ids that need 29 bits and are written without the flag of such ids -> message and line."""
    wide: dict[int, tuple[str, int]] = {}
    for entry in dbc.entries():
        found = _MESSAGE.match(dbc.bare, entry.start, entry.end) if entry.keyword == "BO_" else None
        if found and len(found[1]) <= _DIGITS and _STANDARD < int(found[1]) <= _EXTENDED:
            wide.setdefault(int(found[1]), (found[2], dbc.line(entry.start)))
    return wide


def _stray(dbc: DbcText) -> Iterator[tuple[str, re.Match[str]]]:
    """Labels and number types of signals that no message of that id has."""
    signals: defaultdict[int, set[str]] = defaultdict(set)
    held: set[str] = set()  # of the message that the text is in
    described = []
    for entry in dbc.entries():
        if entry.keyword == "BO_" and (found := _MESSAGE.match(dbc.bare, entry.start, entry.end)):
            known = len(found[1]) <= _DIGITS and found[2] != _PSEUDO
            held = signals[int(found[1])] if known else set()
        elif entry.keyword == "SG_" and (found := _SIGNAL.match(dbc.bare, entry.start, entry.end)):
            held.add(found[1])
        elif (pattern := _OF_A_SIGNAL.get(entry.keyword)) and (
            found := pattern.match(dbc.bare, entry.start, entry.end)
        ):
            described.append((entry.keyword, found))
    for keyword, found in described:
        if found[2] not in signals.get(int(found[1]), ()):
            yield keyword, found
