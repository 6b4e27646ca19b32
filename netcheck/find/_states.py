"""Which states follow the marks: each field of each message against them, then ranked."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck.find._fields import MOST_VALUES, ByteMovements, moved_bytes
from netcheck.find._follow import Following, follow
from netcheck.find._marks import Asked
from netcheck.find._model import CandidateKind, FoundField
from netcheck.find._movements import FieldChanges, MessageMovements, Movements
from netcheck.find._periods import ActivePeriod, active_periods, envelope
from netcheck.records import dataclass

_WIDER: Final = -1.0  # for each further group of bits: as many more fields may follow by chance
_OTHER_CHANGE: Final = -0.3  # a change among other values that no mark explains
_MOST_OTHER: Final = -5.0
_MORE_VALUES: Final = -1.5  # for each further value that counts as active
_BLINKING: Final = -2.0
_PRESENCE: Final = -2.0
_INVERTED: Final = -0.7  # active is 0
_AT_CHANGES: Final = 1.5  # its message is sent when it changes: nobody does that for what does not matter
_LEAST_CHANGES: Final = 4
_EARLY: Final = 0.7  # of the period: a frame that came so soon was sent for a reason
_MOST_EARLY: Final = 0.7  # share of changes that came early, at least
_EXTRA_FRAMES: Final = 0.3  # share of frames beyond those of the period: above, it has no period
_IN_QUIET: Final = -3.5  # it moved in a quiet capture
_LEAST_ODDS: Final = -2.0  # what is worse is not listed
_OFTENER: Final = 1.3  # near marks than elsewhere, for a value that may be active
_NEAR: Final = 0.8  # s around a mark that still count as its inside


@dataclass(frozen=True)
class Hypothesis:
    """A field with its active values, and how it follows the marks. odds: a logarithm"""

    field: FoundField
    kind: CandidateKind
    active: tuple[int, ...]
    rest: tuple[int, ...]
    periods: tuple[ActivePeriod, ...]
    following: Following
    message: MessageMovements
    odds: float
    groups: int = 1
    at_changes: bool = False
    in_quiet: Mapping[str, int] | None = None


def hypotheses(movements: Movements, asked: Asked, quiet: Sequence[Movements]) -> list[Hypothesis]:
    """Every field that follows the marks better than chance; those of a message one after another."""
    found = []
    for message in movements.messages:
        for byte in moved_bytes(message, asked):
            found += _best_of(list(_of_byte(byte, asked)))
        found += _presence(message, asked)
    return [_against_quiet(each, quiet) for each in found]


def moved_bits(movements: Movements) -> int:
    """Bits that moved and are still followed: that many fields may follow by chance."""
    return sum(
        int(np.count_nonzero(lane.flips[:64] > 0)) - (~lane.live & (1 << 64) - 1).bit_count()
        for message in movements.messages
        for lane in message.lanes
    )


def _of_byte(byte: ByteMovements, asked: Asked) -> Iterator[Hypothesis]:
    for run in byte.runs():
        bit, width = run[0].bit, run[-1].bit + run[-1].width - run[0].bit
        changes = byte.changes(bit, width)
        values = np.unique(changes.values)
        if len(values) > MOST_VALUES:
            continue
        for active in _active_sets(changes, asked, byte.message):
            yield from _tried(byte, (bit, width, len(run)), changes, active, asked)


def _tried(
    byte: ByteMovements,
    place: tuple[int, int, int],
    changes: FieldChanges,
    active: tuple[int, ...],
    asked: Asked,
) -> Iterator[Hypothesis]:
    message = byte.message
    bit, width, groups = place
    field = FoundField(message.channel, message.frame_id, byte.byte, bit, width)
    rest = tuple(sorted(set(changes.values.tolist()) - set(active)))
    at_changes = sent_at_changes(changes, message)
    prior = _MORE_VALUES * (len(active) - 1) + _INVERTED * (active == (0,)) + _AT_CHANGES * at_changes
    if groups > 1:
        prior += _WIDER * (groups - 1) - math.log(len(rest)) + _other_changes(changes, active, asked)
    plain = active_periods(changes, active, message.first, _end_of(message, asked), message.period)
    for kind, periods in ((CandidateKind.STATE, plain), (CandidateKind.BLINKS, envelope(plain))):
        following = follow(periods, asked)
        if following is None:
            continue
        odds = following.odds + prior + _BLINKING * (kind is CandidateKind.BLINKS)
        if odds >= _LEAST_ODDS:
            yield Hypothesis(field, kind, active, rest, periods, following, message, odds, groups, at_changes)


def sent_at_changes(changes: FieldChanges, message: MessageMovements) -> bool:
    """Whether frames that brought a change came sooner than the period has them, in most cases."""
    if len(changes.times) < _LEAST_CHANGES or not message.period:
        return False
    usual = (message.last - message.first) / message.period + 1
    has_period = message.count - usual <= _EXTRA_FRAMES * message.count
    early = float(np.mean(changes.gaps < _EARLY * message.period))
    return has_period and early >= _MOST_EARLY


def _other_changes(changes: FieldChanges, active: tuple[int, ...], asked: Asked) -> float:
    """What changes among other values cost: those that lie near no mark, of whatever role."""
    is_active = np.isin(changes.values, active)
    times = changes.times[~(is_active[1:] | is_active[:-1])]
    near = np.zeros(len(times), np.bool_)
    for low, high in (*asked.active, *(span for each in asked.others.values() for span in each)):
        near |= (times >= low - _NEAR) & (times <= high + _NEAR)
    return max(_OTHER_CHANGE * int(np.count_nonzero(~near)), _MOST_OTHER)


def _end_of(message: MessageMovements, asked: Asked) -> float:
    return min(message.last + message.period, asked.seconds)


def _active_sets(changes: FieldChanges, asked: Asked, message: MessageMovements) -> list[tuple[int, ...]]:
    """The values that belong to marks: all of them together, and the one that is seen there most."""
    inside, total = value_times(changes, asked.active, message.first, asked.seconds)
    usual = sum(inside.values()) / max(sum(total.values()), 1e-9)
    most = max(total, key=lambda value: total[value] - inside[value])
    likely = [value for value in total if value != most and inside[value] > _OFTENER * usual * total[value]]
    likely.sort(key=lambda value: -inside[value])
    belongs = tuple(sorted(value for value in likely if inside[value] >= 0.5 * total[value]))
    sets = [belongs, *((value,) for value in likely[:2])]
    return [each for each in dict.fromkeys(sets) if each]


def value_times(
    changes: FieldChanges,
    spans: Sequence[tuple[float, float]],
    begin: float,
    end: float,
    near: float = _NEAR,
) -> tuple[dict[int, float], dict[int, float]]:
    """Seconds of each value: inside of spans, a little around them included, and in all."""
    starts = np.append(begin, changes.times)
    ends = np.append(changes.times, max(end, float(starts[-1])))
    within: NDArray[np.float64] = np.zeros(len(starts))
    for low, high in spans:
        within += np.maximum(np.minimum(ends, high + near) - np.maximum(starts, low - near), 0)
    within = np.minimum(within, ends - starts)
    inside: dict[int, float] = {}
    total: dict[int, float] = {}
    for value, each, whole in zip(
        changes.values.tolist(), within.tolist(), (ends - starts).tolist(), strict=True
    ):
        inside[value] = inside.get(value, 0.0) + each
        total[value] = total.get(value, 0.0) + whole
    return inside, total


def _best_of(found: list[Hypothesis]) -> list[Hypothesis]:
    """Of fields of a byte that overlap and are active at the same times, the one that says it best."""
    kept: list[Hypothesis] = []
    for each in sorted(found, key=lambda one: (-one.odds, one.groups, one.field.bit)):
        if not any(_overlap(each.field, other.field) for other in kept):
            kept.append(each)
    return kept


def _overlap(one: FoundField, other: FoundField) -> bool:
    return one.bit < other.bit + other.width and other.bit < one.bit + one.width


def _presence(message: MessageMovements, asked: Asked) -> Iterator[Hypothesis]:
    """A message that comes only while the role is active."""
    if not 1 <= len(message.silences) + 1 <= 64 or message.count < 2:
        return
    begins = [message.first, *message.silences[:, 1].tolist()]
    ends = [*message.silences[:, 0].tolist(), message.last]
    periods = tuple(
        ActivePeriod(begin, end + message.period, 0.0, message.period, begin > 0.3, end < asked.seconds - 0.3)
        for begin, end in zip(begins, ends, strict=True)
    )
    if sum(each.seconds for each in periods) > 0.7 * asked.seconds:
        return
    following = follow(periods, asked)
    if following is None or following.odds + _PRESENCE < _LEAST_ODDS:
        return
    field = FoundField(message.channel, message.frame_id, 0, 0, 0)
    yield Hypothesis(
        field,
        CandidateKind.PRESENCE,
        (),
        (),
        periods,
        following,
        message,
        following.odds + _PRESENCE,
    )


def _against_quiet(each: Hypothesis, quiet: Sequence[Movements]) -> Hypothesis:
    """Less likely where it moved although nobody did anything."""
    moved = {one.file: count for one in quiet if (count := _moved_in(each, one))}
    return replace(each, in_quiet=moved, odds=each.odds + _IN_QUIET * bool(moved))


def _moved_in(each: Hypothesis, quiet: Movements) -> int:
    """How often its active state began in a quiet capture."""
    for message in quiet.by_key.get(each.message.key, ()):
        if each.field.is_presence:
            return len(message.silences) + 1
        if (message.length > 8) != (each.message.length > 8) or each.field.byte >= message.length:
            continue
        lane = message.lanes[each.field.byte // 8]
        if any(
            lane.flips[8 * (each.field.byte % 8) + bit]
            and not lane.live >> 8 * (each.field.byte % 8) + bit & 1
            for bit in range(each.field.bit, each.field.bit + each.field.width)
        ):
            return 256
        changes = lane.changes(each.field.byte, each.field.bit, each.field.width)
        is_active = np.isin(changes.values, each.active)
        return int(np.count_nonzero(np.diff(is_active)) + 1) // 2
    return 0


def chance(bits: int) -> float:
    """Logarithm of the odds against any one field, before anything is known of it."""
    return -math.log(max(bits, 1))
