"""A search without marks: what moved while something was worked, and never in a quiet capture."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from netcheck.find._behind import put_behind
from netcheck.find._fields import MOST_VALUES, moving_groups
from netcheck.find._follow import Following
from netcheck.find._marks import Asked, MarkNote, MarkProblem
from netcheck.find._model import CandidateKind, FoundField, NextExercise, NextKind, Search
from netcheck.find._movements import FieldChanges, MessageMovements, Movements
from netcheck.find._periods import ActivePeriod, active_periods
from netcheck.find._rank import ranked
from netcheck.find._states import Hypothesis, value_times

_MOST: Final = 0.5  # score at most: no mark says that it was worked then
_USUAL: Final = 6  # presses that a person does in a capture; more are less likely
_MANY: Final = 60
_BORDER: Final = 3.0  # s after the beginning or before the end: ignition

# Logarithms of odds, our own rules of thumb.
_PRESS_MORE: Final = -0.1
_NOT_BACK: Final = -1.5  # it did not go back, or not begin, inside the capture
_BRIEF: Final = -1.0  # shorter than a hand: 0.1 s
_NOT_COMPARED: Final = -1.0  # its message is in no quiet capture
_AT_BORDERS: Final = -3.0
_OTHER_REST: Final = -2.0  # at rest it is not what it is in the quiet capture
_PRESENT: Final = -0.5  # the message itself comes only here


def find_moved(
    movements: Movements, role: str, quiet: Sequence[Movements], *, state: str | None = None
) -> Search:
    """Fields that moved in a capture and in none of the quiet ones, the likeliest first; none stands clear.

    Raises no error: without times nothing can be said of periods, and ``problem`` tells.
    """
    asked = Asked(role, state or "active", (), {}, movements.seconds, (MarkNote.NO_MARKS,))
    if not movements.has_times:
        asked = replace(asked, problem=MarkProblem.NO_TIMES)
    found: list[Hypothesis] = []
    for message in () if asked.problem else movements.messages:
        found += _of_message(message, movements, quiet)
    candidates = tuple(replace(each, score=min(each.score, _MOST)) for each in ranked(found, 0.0))
    best = candidates[0].field if candidates else None
    return Search(
        file=movements.file,
        asked=asked,
        frames=movements.frames,
        candidates=candidates,
        separated=False,
        next=NextExercise(NextKind.MARKS if candidates else NextKind.NOTHING_HERE, best),
        behind=put_behind(movements, candidates, quiet),
        messages=len(movements.messages),
        quiet=tuple(each.file for each in quiet),
    )


def _of_message(
    message: MessageMovements, movements: Movements, quiet: Sequence[Movements]
) -> Iterator[Hypothesis]:
    others = [other for each in quiet for other in each.by_key.get(message.key, ())]
    if not others and message.last - message.first < movements.seconds / 2:
        yield _presence(message, movements)
    still = _still_bits(message, others)
    for byte, group in moving_groups(message):
        bits = range(8 * byte + group.bit, 8 * byte + group.bit + group.width)
        if not all(still[bit] for bit in bits):
            continue
        lane = message.lanes[byte // 8]
        changes = lane.changes(byte, group.bit, group.width)
        found = _hypothesis(message, (byte, group.bit, group.width), changes, movements)
        if found is not None:
            yield replace(found, odds=found.odds + _compared(found, others))


def _still_bits(message: MessageMovements, others: Sequence[MessageMovements]) -> list[bool]:
    """Of each bit, whether it stood still in all quiet captures."""
    still = np.ones(8 * message.length, np.bool_)
    for other in others:
        flips = other.flips()[: len(still)]
        still[: len(flips)] &= flips == 0
    return still.tolist()


def _hypothesis(
    message: MessageMovements, place: tuple[int, int, int], changes: FieldChanges, movements: Movements
) -> Hypothesis | None:
    _, times = value_times(changes, (), message.first, movements.seconds)
    if len(times) > MOST_VALUES:
        return None
    idle = max(times, key=lambda value: times[value])
    active = tuple(sorted(value for value in times if value != idle))
    end = min(message.last + message.period, movements.seconds)
    periods = active_periods(changes, active, message.first, end, message.period)
    if not periods or len(periods) > _MANY:
        return None
    field = FoundField(message.channel, message.frame_id, *place)
    odds = _odds(periods, movements.seconds)
    return _as_hypothesis(message, field, CandidateKind.STATE, (active, (idle,)), periods, odds)


def _presence(message: MessageMovements, movements: Movements) -> Hypothesis:
    field = FoundField(message.channel, message.frame_id, 0, 0, 0)
    whole = ActivePeriod(
        message.first, message.last + message.period, 0.0, message.period, message.first > _BORDER, True
    )
    odds = _PRESENT + _odds((whole,), movements.seconds)
    return _as_hypothesis(message, field, CandidateKind.PRESENCE, ((), ()), (whole,), odds)


def _as_hypothesis(
    message: MessageMovements,
    field: FoundField,
    kind: CandidateKind,
    values: tuple[tuple[int, ...], tuple[int, ...]],
    periods: tuple[ActivePeriod, ...],
    odds: float,
) -> Hypothesis:
    following = Following(odds, 0.0, 0, 0, 0, (), 0)
    return Hypothesis(field, kind, values[0], values[1], periods, following, message, odds)


def _odds(periods: Sequence[ActivePeriod], seconds: float) -> float:
    odds = _PRESS_MORE * max(len(periods) - _USUAL, 0)
    odds += _NOT_BACK * (not all(each.begins and each.ends for each in periods))
    odds += _BRIEF * (max(each.seconds for each in periods) < 0.1)
    edges = [each.begin for each in periods if each.begins] + [each.end for each in periods if each.ends]
    return odds + _AT_BORDERS * all(edge < _BORDER or edge > seconds - _BORDER for edge in edges)


def _compared(found: Hypothesis, others: Sequence[MessageMovements]) -> float:
    if not others:
        return _NOT_COMPARED
    place = found.field
    for other in others:
        if place.byte < other.length:
            lane = other.lanes[place.byte // 8]
            value = int(lane.changes(place.byte, place.bit, place.width).values[0])
            if value not in found.rest:
                return _OTHER_REST
    return 0.0
