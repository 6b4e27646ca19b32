"""Bits that moved and are no candidate, each with the reason."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck.find._model import BehindReason, FieldCandidate, PutBehind
from netcheck.find._movements import MessageMovements, Movements
from netcheck.find._pages import pages_of
from netcheck.find._quantity_model import QuantityCandidate

_BORDER: Final = 3.0  # s after the beginning or before the end of a capture
_LEAST_FRAMES: Final = 16
_EVERY: Final = 0.9  # share of frames in which the lowest bit of a counter changes
_EVEN: Final = (0.35, 0.65)  # share of frames in which a bit of a checksum changes


def put_behind(
    movements: Movements,
    candidates: Sequence[FieldCandidate] | Sequence[QuantityCandidate],
    quiet: Sequence[Movements],
    *,
    rest: BehindReason = BehindReason.NOT_WITH_MARKS,
) -> tuple[PutBehind, ...]:
    """Runs of bits with one reason, in order of channel, id and bit.

    rest: the reason where there is no other
    """
    taken = {
        (place.channel, place.frame_id, bit)
        for each in candidates
        for place in (each.field, *each.copies)
        for bit in place.bits
    }
    found: list[PutBehind] = []
    for message in movements.messages:
        reasons = _reasons(message, movements.seconds, quiet, rest)
        for number, reason in sorted(reasons.items()):
            if (*message.key, number) in taken:
                continue
            _add(
                found,
                PutBehind(message.channel, message.frame_id, number // 8, number % 8, number % 8, reason),
            )
    return tuple(found)


def _add(found: list[PutBehind], new: PutBehind) -> None:
    if found:
        last = found[-1]
        same = (last.channel, last.frame_id, last.byte, last.reason) == (
            new.channel,
            new.frame_id,
            new.byte,
            new.reason,
        )
        if same and last.high + 1 == new.low:
            found[-1] = PutBehind(new.channel, new.frame_id, new.byte, last.low, new.high, new.reason)
            return
    found.append(new)


def _reasons(
    message: MessageMovements, seconds: float, quiet: Sequence[Movements], rest: BehindReason
) -> dict[int, BehindReason]:
    """Of each bit that moved."""
    flips = message.flips()
    if not flips.any():
        return {}
    found = dict(busy_bits(message))
    pages = pages_of(message)
    if pages is not None:
        found |= dict.fromkeys(pages.paged, BehindReason.PAGED)
        found |= dict.fromkeys(pages.selector, BehindReason.PAGE_NUMBER)
    for lane in message.lanes:
        for bit in range(64):
            number = 64 * lane.number + bit
            if number >= len(flips) or not flips[number] or number in found:
                continue
            times = lane.changes(8 * lane.number + bit // 8, bit % 8, 1).times
            found[number] = _slow_reason(message, number, times, seconds, quiet) or rest
    return found


def _slow_reason(
    message: MessageMovements,
    number: int,
    times: NDArray[np.float64],
    seconds: float,
    quiet: Sequence[Movements],
) -> BehindReason | None:
    if len(times) and ((times < _BORDER) | (times > seconds - _BORDER)).all():
        return BehindReason.AT_BORDERS
    for one in quiet:
        for other in one.by_key.get(message.key, ()):
            flips = other.flips()
            if number < len(flips) and flips[number]:
                return BehindReason.IN_QUIET
    return None


def busy_bits(message: MessageMovements) -> Iterator[tuple[int, BehindReason]]:
    """Bits that change in many frames, with their numbers: counters, checksums, quantities, noise."""
    flips = message.flips()
    steps = max(message.count - 1, 1)
    if steps < _LEAST_FRAMES:
        return
    rates = flips / steps
    counters = set(_counter_bits(rates))
    for byte in range(message.length):
        own = range(8 * byte, 8 * byte + 8)
        part = rates[8 * byte : 8 * byte + 8]
        is_followed = [message.lanes[bit // 64].live >> bit % 64 & 1 for bit in own]
        for bit in own:
            if bit in counters:
                yield bit, BehindReason.COUNTER
            elif rates[bit] and ((part > _EVEN[0]) & (part < _EVEN[1])).all():
                yield bit, BehindReason.CHECKSUM
            elif not is_followed[bit % 8] and rates[bit]:
                yield bit, _wide_reason(part)


def _wide_reason(part: NDArray[np.float64]) -> BehindReason:
    """A quantity changes the more often, the lower the bit."""
    moved = part[part > 0]
    if len(moved) >= 3 and (np.diff(moved) <= 0.02).all():
        return BehindReason.QUANTITY
    return BehindReason.NOISE


def _counter_bits(rates: NDArray[np.float64]) -> Iterator[int]:
    """Bits of counters: the lowest changes in each frame, each further one half as often."""
    bit = 0
    while bit < len(rates):
        width = 1
        if rates[bit] >= _EVERY:
            while (bit + width) % 8 and 0.4 * rates[bit + width - 1] <= rates[bit + width] <= 0.6 * rates[
                bit + width - 1
            ]:
                width += 1
            if width >= 2:
                yield from range(bit, bit + width)
        bit += width
