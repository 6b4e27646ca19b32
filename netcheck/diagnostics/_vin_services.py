"""Vehicle identification numbers (VINs) in whole messages of diagnostic services.

Messages about the number: answers to and writes of data identifier F190 (ISO 14229-1: 62 F1 90 …, 2E F1 90 …,
alone or among others), answers to mode 09, type 02 (ISO 15031-5: 49 02 01 …), identification in KWP 2000
(5A 90 …, 3B 90 …). Answers that may hold one among other things: identification, local identifier and memory
in KWP 2000 (5A, 61, 63).
"""

from __future__ import annotations

import re
from typing import Final

from netcheck.records import dataclass

VIN_LENGTH: Final = 17
_SIGNS: Final = rb"[A-HJ-NPR-Z0-9]"  # ISO 3779: no I, O, Q
VIN_RUN: Final = re.compile(_SIGNS + rb"{17,}")
VIN_PIECE: Final = re.compile(_SIGNS + rb"{4}")
_READ, _WRITE = 0x62, 0x2E
_IDENTIFIED, _LOCAL, _MEMORY = 0x5A, 0x61, 0x63
_HOLDERS: Final = frozenset((_IDENTIFIED, _LOCAL, _MEMORY))
_ABOUT: Final = (b"\x49\x02", bytes([_IDENTIFIED, 0x90]), b"\x3b\x90")
_FILLERS: Final = frozenset(b"\x00\xff\x20\x2a\x55\xaa\xcc")
_LEAST_KINDS: Final = 4  # different characters; fewer are a filler, not a number to look for elsewhere
_LONGEST: Final = 64  # characters in a row that a number is looked for in


@dataclass(frozen=True)
class NumberTold:
    """What a whole message tells of a number.

    span:    (begin, end) of the bytes that hold it; begin is end where nothing has to go
    numbers: what to look for elsewhere: each run of 17 of the characters that stand there
    is_read: whether the number could be told; if not, the span is the rest of the message
    """

    span: tuple[int, int]
    numbers: frozenset[bytes]
    is_read: bool


def number_begins(message: bytes) -> int | None:
    """Where the number may begin at the earliest, in a message that is about it; None when it is not."""
    if message[:3] in (bytes([_READ, 0xF1, 0x90]), bytes([_WRITE, 0xF1, 0x90])):
        return 3
    if message[:2] in _ABOUT:
        return 2
    if message[:1] in (bytes([_READ]), bytes([_WRITE])):
        later = re.search(rb"\xf1\x90(?=\0*" + _SIGNS + rb"{17})", message[3:])
        return 3 + later.end() if later else None
    return None


def number_told(message: bytes) -> NumberTold | None:
    """What a whole message tells; None when it is about something else."""
    begin = number_begins(message)
    if begin is not None:
        found = told_from(message, begin)
        is_empty = not found.is_read and not set(message[begin:]) - _FILLERS
        return NumberTold((begin, begin), frozenset(), is_read=True) if is_empty else found
    if message[:1] and message[0] in _HOLDERS:
        found = told_from(message, 1)
        return found if found.numbers and re.search(rb"[A-Z]", message[slice(*found.span)]) else None
    return None


def told_from(message: bytes, begin: int) -> NumberTold:
    """The first 17 or more characters in a row from there on."""
    run = VIN_RUN.search(message, begin)
    if run is None:
        return NumberTold((begin, len(message)), frozenset(), is_read=False)
    text = run.group()[:_LONGEST]
    numbers = (text[i : i + VIN_LENGTH] for i in range(len(text) - VIN_LENGTH + 1))
    return NumberTold(run.span(), frozenset(each for each in numbers if len(set(each)) >= _LEAST_KINDS), True)
