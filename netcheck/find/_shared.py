"""Buttons that share a field: each has its code, and single bits of the code belong to several."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from netcheck.find._fields import MOST_VALUES
from netcheck.find._marks import Asked
from netcheck.find._model import CandidateKind
from netcheck.find._movements import FieldChanges, Lane
from netcheck.find._periods import active_periods
from netcheck.find._states import Hypothesis, value_times

_REACH: Final = 0.9  # s around an edge of a mark in which a change may belong to it
_OWN: Final = 0.8  # share of a bit's changes that belong to marks


def in_shared_fields(found: Sequence[Hypothesis], asked: Asked) -> list[Hypothesis]:
    """The same, where other marks show that a field is wider, as that field with its code."""
    if not asked.others:
        return list(found)
    return [_widened(each, asked) if each.kind is CandidateKind.STATE else each for each in found]


def _widened(each: Hypothesis, asked: Asked) -> Hypothesis:
    lane = each.message.lanes[each.field.byte // 8]
    bits = sorted(_family_bits(lane, each.field.byte, asked))
    own = set(range(each.field.bit, each.field.bit + each.field.width))
    if not own <= set(bits):
        return each
    low, high = _run(bits, own)
    if high - low + 1 <= each.field.width:
        return each
    changes = lane.changes(each.field.byte, low, high - low + 1)
    code = _own_code(changes, each, asked)
    if code is None:
        return each
    active = (code,)
    end = each.message.last + each.message.period
    periods = active_periods(changes, active, each.message.first, end, each.message.period)
    if len(periods) != len(each.periods):
        return each
    rest = tuple(sorted(set(changes.values.tolist()) - set(active)))
    field = replace(each.field, bit=low, width=high - low + 1)
    return replace(each, field=field, active=active, rest=rest)


def _family_bits(lane: Lane, byte: int, asked: Asked) -> Iterator[int]:
    """Bits whose changes lie at marks of any role."""
    spans = [*asked.active, *(span for each in asked.others.values() for span in each)]
    for bit in range(8):
        number = 8 * (byte % 8) + bit
        if not lane.flips[number] or not lane.live >> number & 1:
            continue
        times = lane.changes(byte, bit, 1).times
        near = [any(min(abs(time - a), abs(time - b)) <= _REACH for a, b in spans) for time in times.tolist()]
        if np.mean(near) >= _OWN:
            yield bit


def _run(bits: Sequence[int], own: set[int]) -> tuple[int, int]:
    """The neighbours of a field among these bits; one bit between that stands still is passed over."""
    low, high = min(own), max(own)
    while low - 1 in bits or (low - 2 in bits and low - 2 >= 0):
        low -= 1 if low - 1 in bits else 2
    while high + 1 in bits or high + 2 in bits:
        high += 1 if high + 1 in bits else 2
    return low, high


def _own_code(changes: FieldChanges, each: Hypothesis, asked: Asked) -> int | None:
    """The role's code in a field that others share; None where every role has bits of its own."""
    if len(np.unique(changes.values)) > MOST_VALUES:
        return None
    codes: list[int] = []
    idle = 0
    for spans in (asked.active, *asked.others.values()):
        inside, total = value_times(changes, spans, each.message.first, asked.seconds)
        idle = max(total, key=lambda value: total[value])
        own = [value for value in total if value != idle and inside[value] >= 0.5 * total[value]]
        if own:
            codes.append(max(own, key=lambda value: inside[value]))
        elif spans is asked.active:
            return None
    if _is_one_hot([code ^ idle for code in codes]):
        return None
    return codes[0]


def _is_one_hot(codes: Sequence[int]) -> bool:
    """Whether each code has bits of its own, so that every button has its bit."""
    taken = 0
    for code in codes:
        if code & taken:
            return False
        taken |= code
    return True
