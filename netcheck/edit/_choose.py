"""Which frames of a capture are meant: by id, by time, by channel."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from netcheck.capture import ERROR, EXTENDED, Capture
from netcheck.errors import UsageError
from netcheck.words import id_text

Mask = NDArray[np.bool_]
_SPAN: Final = re.compile(r"(0x[0-9a-f]{1,8})(?:-(0x[0-9a-f]{1,8}))?", re.IGNORECASE)
_REMEDY: Final = "write 0x123, a range 0x100-0x1FF, or eight digits for 29 bits: 0x18FF21FE, 0x00000123"


class IdSpan(NamedTuple):
    """Ids from low to high, both included, all of 11 or all of 29 bits."""

    low: int
    high: int
    is_extended: bool

    def __str__(self) -> str:
        low, high = (id_text(number, self.is_extended) for number in self[:2])
        return low if low == high else f"{low}-{high}"


def id_span(text: str) -> IdSpan:
    """``0x123`` or ``0x100-0x1FF``. Eight digits, or a value above 0x7FF, mean 29 bits.

    Raises UsageError for anything else.
    """
    found = _SPAN.fullmatch(text.strip())
    if not found:
        raise UsageError(f"'{text}' is not an id", remedy=_REMEDY)
    words = [word for word in found.groups() if word]
    values = [int(word, 16) for word in words]
    wide = [len(word) == 10 or value > 0x7FF for word, value in zip(words, values, strict=True)]
    if values[-1] > 0x1FFFFFFF:
        raise UsageError(f"'{text}' is more than 29 bits", remedy=_REMEDY)
    if values[0] > values[-1]:
        raise UsageError(f"'{text}' runs backwards", remedy="write the lower id first")
    if wide[0] != wide[-1]:
        raise UsageError(f"'{text}' runs from 11 to 29 bits", remedy="give two ranges")
    return IdSpan(values[0], values[-1], wide[0])


def of_ids(chunk: Capture, spans: Iterable[IdSpan]) -> Mask:
    """Frames whose id is in one of the spans; an error frame is nobody's."""
    chosen = np.zeros(len(chunk), np.bool_)
    extended = (chunk.flags & EXTENDED) != 0
    for span in spans:
        chosen |= (chunk.can_id >= span.low) & (chunk.can_id <= span.high) & (extended == span.is_extended)
    chosen &= (chunk.flags & ERROR) == 0
    return chosen


def of_channels(chunk: Capture, names: Iterable[str]) -> Mask:
    """Frames of these channels."""
    wanted = [number for number, name in enumerate(chunk.channels) if name in set(names)]
    return np.isin(chunk.channel, np.array(wanted, np.uint8))


class TimeSpans:
    """Spans of time, joined where they meet. pairs: (begin, end) in ns, both included."""

    def __init__(self, pairs: Sequence[tuple[int, int]]) -> None:
        joined: list[list[int]] = []
        for begin, end in sorted(pairs):
            if joined and begin <= joined[-1][1]:
                joined[-1][1] = max(joined[-1][1], end)
            else:
                joined.append([begin, end])
        self._begins = np.array([begin for begin, _ in joined], np.int64)
        self._ends = np.array([end for _, end in joined], np.int64)

    def hold(self, chunk: Capture) -> Mask:
        """Frames inside one of the spans."""
        if not len(self._begins):
            return np.zeros(len(chunk), np.bool_)
        before = np.searchsorted(self._begins, chunk.time_ns, side="right") - 1
        inside: Mask = (before >= 0) & (chunk.time_ns <= self._ends[np.maximum(before, 0)])
        return inside
