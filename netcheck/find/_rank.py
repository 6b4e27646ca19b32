"""Fields that follow, as rows: copies put together, causes above their effects, with how likely each is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from netcheck.find._model import Cause, FieldCandidate, FoundField
from netcheck.find._periods import ActivePeriod, Delay, delay
from netcheck.find._states import Hypothesis
from netcheck.records import dataclass

SAME: Final = 0.05  # s that copies may lie apart, besides the gaps between their frames
_MOST_DELAY: Final = 3.0  # s between a cause and what follows
_NO_FIELD: Final = 0.15  # share of searches in which the role is on none of the wires
_EFFECT: Final = -1.5
_CLEAR: Final = 0.9
_MOST_ROWS: Final = 400


@dataclass
class _RankedField:
    main: Hypothesis
    copies: list[Hypothesis]
    odds: float
    cause: Cause | None = None


def ranked(found: Sequence[Hypothesis], base: float) -> tuple[FieldCandidate, ...]:
    """Rows, the likeliest first. base: logarithm of the odds of each before anything was known of it"""
    rows = _rows(sorted(found, key=_order)[:_MOST_ROWS])
    _find_causes(rows)
    rows.sort(key=lambda row: (-row.odds, *_order(row.main)))
    none = math.log(_NO_FIELD / (1 - _NO_FIELD))
    weights = [math.exp(min(row.odds + base, 600.0)) for row in rows]
    total = sum(weights) + math.exp(none)
    return tuple(_candidate(row, weight / total) for row, weight in zip(rows, weights, strict=True))


def is_clear(candidates: Sequence[FieldCandidate]) -> bool:
    """Whether the first one stands clear of all others."""
    return bool(candidates) and candidates[0].score >= _CLEAR


def _order(each: Hypothesis) -> tuple[object, ...]:
    return (
        -each.odds,
        each.message.period,
        each.groups,
        str(each.field.frame_id),
        each.field.channel,
        each.field.byte,
        each.field.bit,
    )


def _rows(found: Sequence[Hypothesis]) -> list[_RankedField]:
    rows: list[_RankedField] = []
    for each in found:
        for row in rows:
            if _is_copy(row.main, each):
                row.copies.append(each)
                break
        else:
            rows.append(_RankedField(each, [], each.odds))
    for row in rows:
        near = [each for each in row.copies if row.main.odds - each.odds < 1.5 and each.kind is row.main.kind]
        first = min([row.main, *near], key=_source)
        row.copies = [each for each in [row.main, *row.copies] if each is not first]
        row.main = first
    return rows


def _source(each: Hypothesis) -> tuple[object, ...]:
    """The message that is sent most often first, then the simplest field."""
    return (
        each.message.period,
        each.groups,
        each.field.channel,
        each.field.frame_id,
        each.field.byte,
        each.field.bit,
    )


def _is_copy(one: Hypothesis, other: Hypothesis) -> bool:
    """Whether both always move together: no delay between them can be shown."""
    reach = SAME + max(one.message.period, other.message.period)
    if _long(one.periods, reach) != _long(other.periods, reach):
        return False  # one of them also moved alone
    found = delay(one.periods, other.periods, reach)
    return found is not None and found.low <= SAME and found.high >= -SAME


def _long(periods: Sequence[ActivePeriod], reach: float) -> int:
    """How many periods are too long for any message to have missed."""
    return sum(each.seconds > 3 * reach for each in periods)


def _find_causes(rows: Sequence[_RankedField]) -> None:
    effects: list[tuple[_RankedField, _RankedField]] = []
    for row in rows:
        causes = [
            (found, other)
            for other in rows
            if other is not row and (found := _cause(other.main, row.main)) is not None
        ]
        if causes:
            found, other = max(causes, key=lambda each: (each[0].low, -each[1].odds))
            row.cause = Cause(other.main.field, (found.low + found.high) / 2)
            effects.append((row, other))
    for row, other in effects:
        row.odds = min(row.odds, other.odds) + _EFFECT


def _cause(first: Hypothesis, second: Hypothesis) -> Delay | None:
    """The delay, if the second one always follows the first one: no edge of it comes before."""
    if first.in_quiet and not second.in_quiet:
        return None  # it moved alone
    found = delay(first.periods, second.periods, _MOST_DELAY)
    if found is None or found.low <= SAME or found.high <= 0 or found.spread > 0.5 + second.message.period:
        return None
    return found


def _candidate(row: _RankedField, score: float) -> FieldCandidate:
    main = row.main
    following = main.following
    return FieldCandidate(
        field=main.field,
        kind=main.kind,
        score=round(score, 4),
        active=main.active,
        rest=main.rest,
        followed=following.followed,
        matched=following.matched,
        edges=following.edges,
        lag=following.lag,
        periods=tuple((each.begin, each.end) for each in main.periods),
        unasked=tuple((each.begin, each.end) for each in following.unasked),
        in_others=following.in_others,
        in_quiet=dict(main.in_quiet or {}),
        period=main.message.period,
        at_changes=main.at_changes,
        copies=tuple(_unique(main.field, row.copies)),
        cause=row.cause,
    )


def _unique(main: FoundField, copies: Sequence[Hypothesis]) -> list[FoundField]:
    """Each field once, and none that shares bits with the first."""
    return sorted({each.field for each in copies if not _shares_bits(main, each.field)}, key=_place)


def _shares_bits(one: FoundField, other: FoundField) -> bool:
    is_same = (one.channel, one.frame_id, one.byte) == (other.channel, other.frame_id, other.byte)
    return is_same and one.bit < other.bit + other.width and other.bit < one.bit + one.width


def _place(field: FoundField) -> tuple[object, ...]:
    return field.channel, field.frame_id, field.byte, field.bit
