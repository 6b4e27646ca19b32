"""Which neighbouring bits belong to one quantity, by how often they change, and how often together.

In a quantity a bit changes about half as often as the one below it, until both change at random; and when it
changes, the one below it changes, too, unless the steps are larger than that bit. For each pair of
neighbours the measure is a logarithm of odds: that they are of one quantity, against that they are not.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck.find._behind import busy_bits
from netcheck.find._model import BehindReason, ByteOrder
from netcheck.find._movements import MessageMovements
from netcheck.records import dataclass

_MOST: Final = 8.0  # of the odds of a pair
_MOST_COUNT: Final = 60  # of changes that count
_SLOW_RATE: Final = 0.18  # share of frames below which steps are surely smaller than the bit below
_BEFORE: Final = 0.8  # for neighbours in a byte, before anything is known of them
_ACROSS: Final = -0.4  # for neighbours in two bytes
_NEAR: Final = 7  # bits below a pair, of which the busiest tells how often the quantity moved
_INNER: Final = 2.0  # for a lower bit that changes oftener than the highest bit of a quantity does
_INNER_RATE: Final = 0.3
_CHECKSUM: Final = -2.0  # for neighbours of which only one is in a byte that changes at random
_VOTE: Final = 3.0  # by how much a message must speak for an order
_WORTH: Final = 0.75  # of a vote
_MOST_LEAN: Final = 2.0
# Beta densities of the share of a bit's changes in which the one below it changes, too
_SLOW: Final = ((0.8, 12.0, 0.8), (0.2, 2.0, 1.0))
_FAST: Final = ((0.4, 12.0, 12.0), (0.3, 3.0, 2.0), (0.3, 1.0, 1.0))
_STRANGER_SIZE: Final = 20.0
_STRANGER: Final = 0.75
# logarithm of how much less often the upper one changes
_RATIO: Final = (-0.55, 0.55)
_RATIO_ABOVE: Final = (
    0.08,
    0.45,
)  # how far it may change oftener: where steps are smaller than the bit below, else
_RATIO_STRANGER: Final = 2.0


@dataclass(frozen=True, eq=False)
class BitSequence:
    """The bits of a message in a byte order, from the least significant one of the whole payload on.

    bits:  int64[n], numbers of bits: 8 · byte + n
    links: float64[n - 1]: of each with the next one, which is of higher value; −inf where one never moved
    elsewhere: float64[n]: of each with its neighbour in another byte in the other order, if above 0
    sure:  sum of the odds above 0 across borders of bytes, of bits that change seldom enough to be sure
    """

    order: ByteOrder
    bits: NDArray[np.int64]
    links: NDArray[np.float64]
    elsewhere: NDArray[np.float64]
    sure: float


def sequences(message: MessageMovements, lean: float = 0.0) -> tuple[BitSequence, BitSequence]:
    """Both byte orders.

    lean: logarithm of the odds that this network is big-endian, before anything else is known
    """
    size = message.length
    little = np.arange(8 * size)
    big = np.concatenate([np.arange(8 * byte, 8 * byte + 8) for byte in reversed(range(size))])
    joint = np.concatenate([lane.joint for lane in message.lanes])
    crossing = np.concatenate([lane.crossing for lane in message.lanes])
    big_joint = np.where(np.arange(len(joint)) % 8 == 0, crossing, joint)
    flips = message.flips()
    busy = dict(busy_bits(message))
    barred = {bit for bit, reason in busy.items() if reason is BehindReason.COUNTER}
    random = {bit for bit, reason in busy.items() if reason is BehindReason.CHECKSUM}
    steps = max(message.count - 1, 1)
    of_little = _links(little, flips, joint, (barred, random), steps)
    of_big = _links(big, flips, big_joint, (barred, random), steps)
    sure = [_sure(bits, links, flips, steps) for bits, links in ((little, of_little), (big, of_big))]
    _lean(little, of_little, random, -lean)
    _lean(big, of_big, random, lean)
    return (
        BitSequence("little", little, of_little, _across(big, of_big)[little], sure[0]),
        BitSequence("big", big, of_big, _across(little, of_little)[big], sure[1]),
    )


def byte_order_lean(messages: Iterable[MessageMovements]) -> float:
    """Which byte order the messages of a network speak for, above 0 for big: most makers keep to one."""
    votes = 0
    for message in messages:
        if message.length > 1 and np.count_nonzero(message.flips()):
            little, big = sequences(message)
            votes += (big.sure - little.sure > _VOTE) - (little.sure - big.sure > _VOTE)
    return min(max(_WORTH * votes, -_MOST_LEAN), _MOST_LEAN)


def _is_across(bits: NDArray[np.int64]) -> NDArray[np.bool_]:
    found: NDArray[np.bool_] = bits[1:] // 8 != bits[:-1] // 8
    return found


def _sure(bits: NDArray[np.int64], links: NDArray[np.float64], flips: NDArray[np.int64], steps: int) -> float:
    taken = _is_across(bits) & (links > 0) & (flips[bits[1:]] < _SLOW_RATE * steps)
    return float(links[taken].sum())


def _lean(bits: NDArray[np.int64], links: NDArray[np.float64], random: set[int], lean: float) -> None:
    """Across borders of bytes, but for those of a byte that changes at random: it tells no order."""
    for place in np.flatnonzero(_is_across(bits)).tolist():
        if (int(bits[place]) in random) == (int(bits[place + 1]) in random):
            links[place] += lean


def _across(bits: NDArray[np.int64], links: NDArray[np.float64]) -> NDArray[np.float64]:
    """By number of bit: how much its neighbour in another byte belongs to it."""
    found = np.zeros(len(bits))
    for place in np.flatnonzero(_is_across(bits) & (links > 0)).tolist():
        found[bits[place : place + 2]] += links[place]
    return found


def _links(
    bits: NDArray[np.int64],
    flips: NDArray[np.int64],
    together: NDArray[np.int64],
    kinds: tuple[set[int], set[int]],
    frames: int,
) -> NDArray[np.float64]:
    found = np.full(max(len(bits) - 1, 0), -np.inf)
    barred, random = kinds
    numbers = bits.tolist()
    for place, (low, high) in enumerate(pairwise(numbers)):
        if not flips[low] or not flips[high]:
            continue
        if low in barred or high in barred:
            found[place] = -_MOST
            continue
        is_apart = low // 64 != high // 64  # of two lanes: not counted together
        across = _ACROSS if low // 8 != high // 8 else _BEFORE
        steps = _steps(flips, numbers[max(place - _NEAR, 0) : place + 2], frames)
        is_slow = int(flips[high]) < _SLOW_RATE * steps
        odds = across + _ratio_odds(int(flips[low]), int(flips[high]), is_slow=is_slow)
        if not is_apart:
            rate, changes = int(flips[low]) / steps, int(flips[high])
            odds += _together_odds(rate, int(together[high]), changes, is_slow=is_slow)
        if (low in random) != (high in random):
            odds += _CHECKSUM
        elif flips[low] > _INNER_RATE * steps:
            odds += _INNER
        found[place] = min(max(odds, -_MOST), _MOST)
    return found


def _steps(flips: NDArray[np.int64], near: list[int], frames: int) -> int:
    """Frames in which a quantity moved: its busiest bit changes in half of them. It may stand still long."""
    return min(2 * int(flips[near].max()), frames)


def _ratio_odds(low: int, high: int, *, is_slow: bool) -> float:
    ratio = math.log(high / low)
    mean, spread = _RATIO
    noise = 1 / low + 1 / high
    wide = math.sqrt((spread if ratio < 0 else _RATIO_ABOVE[not is_slow]) ** 2 + noise)
    if ratio >= 0:  # as if it were the top of the slope at 0
        near = -0.5 * (mean / spread) ** 2 - math.log(spread)
        own = near - 0.5 * (ratio / wide) ** 2
    else:
        own = -0.5 * ((ratio - mean) / wide) ** 2 - math.log(wide)
    stranger = math.sqrt(_RATIO_STRANGER**2 + noise)
    return own + 0.5 * (ratio / stranger) ** 2 + math.log(stranger)


def _together_odds(rate: float, together: int, changes: int, *, is_slow: bool) -> float:
    """rate: of the lower bit; together: changes of the upper one in which the lower one changed, too."""
    if changes > _MOST_COUNT:
        together = round(together * _MOST_COUNT / changes)
        changes = _MOST_COUNT
    own = _mixture(together, changes, _SLOW if is_slow else _FAST)
    low = max(_STRANGER_SIZE * rate, 0.05)
    parts = ((_STRANGER, low, max(_STRANGER_SIZE - low, 0.05)), (1 - _STRANGER, 1.0, 1.0))
    return own - _mixture(together, changes, parts)


def _mixture(hits: int, tries: int, parts: tuple[tuple[float, float, float], ...]) -> float:
    """Logarithm of a mixture of beta-binomial probabilities of one order of hits and misses."""
    found = [
        math.log(share) + _beta(hits + above, tries - hits + below) - _beta(above, below)
        for share, above, below in parts
    ]
    most = max(found)
    return most + math.log(sum(math.exp(each - most) for each in found))


def _beta(one: float, other: float) -> float:
    return math.lgamma(one) + math.lgamma(other) - math.lgamma(one + other)
