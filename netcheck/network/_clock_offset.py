"""How far the clocks of two loggers are apart, from messages that both saw.

A payload that an id took exactly once in each capture is the same moment, seen twice; a gateway may be some
milliseconds late. Where the differences of many such moments agree, they are the offset.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck.capture import EXTENDED, NON_DATA, Capture
from netcheck.records import dataclass

# Our own rules of thumb.
_SPREAD_NS: Final = 50_000_000  # moments agree within this time: gateways, batched stamps
_LEAST: Final = 20  # moments that must agree …
_CLEARLY: Final = 5  # … and times as many as agree on any other offset
_BYTES: Final = 8
_LONG: Final = 1 << 32  # marks a 29-bit id
_CHANNEL: Final = 1 << 40


@dataclass(frozen=True)
class ClockOffset:
    """How much later the second capture stamps the same moment. moments: how many agree"""

    seconds: float
    moments: int


def clock_offset(first: Iterable[Capture], second: Iterable[Capture]) -> ClockOffset | None:
    """The offset of two captures with times; None where they show none: too little that both saw.

    first, second: chunks of one capture each
    """
    (here, here_ns), (there, there_ns) = _moments(first), _moments(second)
    _, at_here, at_there = np.intersect1d(here, there, assume_unique=True, return_indices=True)
    apart = np.sort(there_ns[at_there] - here_ns[at_here])
    if len(apart) < _LEAST:
        return None
    counts = np.searchsorted(apart, apart + _SPREAD_NS, side="right") - np.arange(len(apart))
    best = int(counts.argmax())
    agreeing = apart[best : best + int(counts[best])]
    others = counts[(apart + _SPREAD_NS < agreeing[0]) | (apart > agreeing[-1])]
    if len(agreeing) < _LEAST or len(agreeing) < _CLEARLY * int(others.max(initial=0)):
        return None
    return ClockOffset(float(np.median(agreeing)) / 1e9, len(agreeing))


def _moments(chunks: Iterable[Capture]) -> tuple[NDArray[np.uint64], NDArray[np.int64]]:
    """Ids with a new payload that came once only, as sorted numbers, and when."""
    columns = [*zip(*map(_columns, chunks), strict=True)]
    if not columns:
        return np.empty(0, np.uint64), np.empty(0, np.int64)
    sender, word, time_ns = map(np.concatenate, columns)
    order = np.argsort(sender, kind="stable")
    is_new = np.zeros(len(order), np.bool_)  # the first frame of an id is no change
    is_new[1:] = (np.diff(sender[order]) == 0) & (np.diff(word[order]) != 0)
    chosen = order[is_new]
    owner = sender[chosen] & np.uint64(_CHANNEL - 1)
    key = (word[chosen] * np.uint64(0x9E3779B97F4A7C15)) ^ (owner * np.uint64(0xC2B2AE3D27D4EB4F))
    keys, index, counts = np.unique(key, return_index=True, return_counts=True)
    once = counts == 1
    return keys[once], time_ns[chosen[index[once]]]


def _columns(chunk: Capture) -> tuple[NDArray[np.uint64], NDArray[np.uint64], NDArray[np.int64]]:
    """Of the frames that carry data: sender (id, width and channel), payload, time."""
    data = (chunk.flags & NON_DATA) == 0
    at = np.flatnonzero(data & (chunk.length > 0) & (chunk.length <= _BYTES))
    word = np.zeros(len(at), np.uint64)
    start, length = chunk.start[at].astype(np.int64), chunk.length[at]
    for k in range(_BYTES):
        has = length > k
        word[has] |= chunk.data[start[has] + k].astype(np.uint64) << np.uint64(8 * k)
    is_long = (chunk.flags[at] & EXTENDED) != 0
    sender = chunk.can_id[at].astype(np.uint64) | np.where(is_long, np.uint64(_LONG), np.uint64(0))
    sender |= chunk.channel[at].astype(np.uint64) * np.uint64(_CHANNEL)
    return sender, word, chunk.time_ns[at].astype(np.int64)
