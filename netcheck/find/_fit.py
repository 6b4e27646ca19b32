"""Fields of a message against what is known of a quantity: runs of bits, both orders, both signs.

A field is a sum of its bits with weights, so its covariance with what is known follows from theirs.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from netcheck.find._borders import BitSequence, sequences
from netcheck.find._known import Known, is_rising
from netcheck.find._model import ByteOrder
from netcheck.find._movements import MessageMovements
from netcheck.records import dataclass

MOST_WIDTH: Final = 32
LEAST_BITS: Final = 3  # that moved
_LEAST_SAMPLES: Final = 12
_LEAST_SHARE: Final = 0.3  # of its samples, at which something is known
_LEAST_FIT: Final = 0.3  # squared correlation
_MOST_OF_MESSAGE: Final = 8
_LAG_SPREAD: Final = 0.6  # s
_SIGNED: Final = -0.5
# Logarithm of how much oftener than at random the lowest bit of a quantity of six bits or more is bit 0 … 7
# of a byte: counted over 6,994 signals of open DBCs
_LOWEST_BIT: Final = np.log(8 * np.array([0.677, 0.041, 0.078, 0.041, 0.050, 0.024, 0.024, 0.015]))


@dataclass(frozen=True)
class Strength:
    """What a fit is worth.

    points: independent ones of what is known
    floor:  share of it that is a person's error
    """

    points: float
    floor: float

    def odds(self, fit: float) -> float:
        """Logarithm of the odds, of a squared correlation, against chance."""
        return float(self._odds(np.array(fit)))

    def many(self, fits: NDArray[np.float64]) -> NDArray[np.float64]:
        """The same of many."""
        return self._odds(fits)

    def _odds(self, fits: NDArray[np.float64]) -> NDArray[np.float64]:
        rest = (1 - np.clip(fits, 0, 1) + self.floor) / (1 + self.floor)
        found: NDArray[np.float64] = -0.5 * max(self.points - 2, 0) * np.log(rest)
        return found


@dataclass(frozen=True, eq=False)
class Fit:
    """A run of bits that moves with what is known.

    bits:  their numbers, from the least significant one on
    fit:   squared correlation at the best lag, s
    links: sum of the odds that its neighbouring bits belong together
    """

    message: MessageMovements
    order: ByteOrder
    bits: tuple[int, ...]
    is_signed: bool
    fit: float
    lag: float
    links: float
    odds: float

    def values(self) -> NDArray[np.float64]:
        """Raw values at the message's samples."""
        return raw_values(self.message, self.bits, is_signed=self.is_signed)


class _Moments(NamedTuple):
    """Covariances of bits: float64[bits, bits] among them, float64[bits, lags] with what is known."""

    own: NDArray[np.float64]
    with_target: NDArray[np.float64]

    def ordered(self, bits: NDArray[np.int64]) -> _Moments:
        """The same in another order of the bits."""
        return _Moments(self.own[np.ix_(bits, bits)], self.with_target[bits])


def raw_values(message: MessageMovements, bits: tuple[int, ...], *, is_signed: bool) -> NDArray[np.float64]:
    """float64[n]: a field at the message's samples; exact up to 53 bits."""
    found: NDArray[np.float64] = np.zeros(len(message.sampled))
    for place, bit in enumerate(bits):
        weight = -(2.0**place) if is_signed and place == len(bits) - 1 else 2.0**place
        found += weight * ((message.lanes[bit // 64].samples >> np.uint64(bit % 64)) & np.uint64(1))
    return found


def fits_of(message: MessageMovements, known: Known, strength: Strength, lean: float = 0.0) -> list[Fit]:
    """The best runs of a message that share no bits, best first. lean: as for ``sequences``"""
    if np.count_nonzero(message.flips()) < LEAST_BITS:
        return []
    usable = is_rising(message.sampled)
    targets = np.stack([known.at(message.sampled, lag) for lag in known.lags])
    usable &= np.isfinite(targets).all(axis=0)
    if usable.sum() < _LEAST_SAMPLES or usable.sum() < _LEAST_SHARE * _inside(message, known):
        return []
    targets = targets[:, usable]
    spread = targets.std(axis=1)
    if not spread.all():
        return []
    targets = (targets - targets.mean(axis=1, keepdims=True)) / spread[:, None]
    bits = _bit_columns(message, usable)
    moments = _Moments(bits.T @ bits / len(bits), bits.T @ targets.T / len(bits))
    found: list[Fit] = []
    for sequence in sequences(message, lean):
        found += _runs(message, sequence, moments, np.array(known.lags), strength)
    found.sort(key=lambda fit: (-fit.odds, fit.order, fit.bits))
    kept: list[Fit] = []
    taken: set[int] = set()
    for each in found:
        if taken.isdisjoint(each.bits):
            kept.append(each)
            taken.update(each.bits)
    return kept[:_MOST_OF_MESSAGE]


def _inside(message: MessageMovements, known: Known) -> int:
    """How many of its samples lie where something is known."""
    times = np.sort(message.sampled)
    return sum(
        int(np.searchsorted(times, end, "right") - np.searchsorted(times, begin))
        for begin, end in known.spans
    )


def _bit_columns(message: MessageMovements, usable: NDArray[np.bool_]) -> NDArray[np.float64]:
    """float64[samples, 8 · length], each column without its mean."""
    words = np.stack([lane.samples for lane in message.lanes], axis=1)[usable]
    bits = np.unpackbits(words.astype("<u8").view(np.uint8), axis=1, bitorder="little")
    columns: NDArray[np.float64] = bits[:, : 8 * message.length].astype(np.float64)
    columns -= columns.mean(axis=0)
    return columns


def _runs(
    message: MessageMovements,
    sequence: BitSequence,
    moments: _Moments,
    lags: NDArray[np.float64],
    strength: Strength,
) -> list[Fit]:
    """The best run from each bit on."""
    fit, lag = _all_runs(moments.ordered(sequence.bits), lags, sequence.links)
    size = len(sequence.bits)
    starts = np.arange(size)
    ends = np.minimum(starts[:, None] + np.arange(MOST_WIDTH), size - 1)
    links, cuts = _links(sequence, starts, ends)
    odds = strength.many(fit) + cuts[:, :, None] + _LOWEST_BIT[sequence.bits % 8][:, None, None]
    odds[:, :, 1] += _SIGNED
    odds += -0.5 * (lag / _LAG_SPREAD) ** 2
    odds[fit < _LEAST_FIT] = -np.inf
    odds[:, : LEAST_BITS - 1] = -np.inf
    best = odds.reshape(size, -1).argmax(axis=1)
    found = []
    for start, place in enumerate(best.tolist()):
        width, signed = divmod(place, 2)
        if not np.isfinite(odds[start, width, signed]):
            continue
        run = tuple(sequence.bits[start : start + width + 1].tolist())
        found.append(
            Fit(
                message,
                sequence.order if run[0] // 8 != run[-1] // 8 else "little",
                run,
                bool(signed),
                float(fit[start, width, signed]),
                float(lag[start, width, signed]),
                float(links[start, width]),
                float(odds[start, width, signed]),
            )
        )
    return found


def _links(
    sequence: BitSequence, starts: NDArray[np.intp], ends: NDArray[np.intp]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Of runs: the sum of the odds inside, and what it costs that they begin and end where they do.

    Bits outside may belong together as they like, so only pairs that speak against the run cost: those inside
    that do not belong together, those across a border that do, those that the other byte order would join.
    """
    finite = np.where(np.isfinite(sequence.links), sequence.links, 0.0)
    whole = np.concatenate([[0.0], np.cumsum(finite)])
    against = np.concatenate([[0.0], np.cumsum(np.minimum(finite, 0.0))])
    outside = np.concatenate([[0.0], np.maximum(finite, 0.0), [0.0]])
    elsewhere = np.concatenate([[0.0], np.cumsum(sequence.elsewhere)])
    begin = starts[:, None]
    cost = against[ends] - against[begin] - outside[begin] - outside[ends + 1]
    return whole[ends] - whole[begin], cost - elsewhere[ends + 1] + elsewhere[begin]


def _all_runs(
    moments: _Moments, lags: NDArray[np.float64], links: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Squared correlation and lag of the run of each width from each bit on, without and with sign.

    Both float64[bits, MOST_WIDTH, 2]. The weight of a bit is a power of two, so variance and covariance of a
    run grow bit by bit. A run ends where a bit never moved.
    """
    own, with_target = moments
    size = len(own)
    fit, lag = np.zeros((size, MOST_WIDTH, 2)), np.zeros((size, MOST_WIDTH, 2))
    is_open = own.diagonal() > 0
    sums = np.zeros((size, size))  # of the run from each bit on: covariance with every bit
    variance = np.zeros(size)
    covariance = np.zeros_like(with_target)
    starts = np.arange(size)
    for width in range(MOST_WIDTH):
        top = starts + width
        inside = top < size
        is_open = is_open & inside
        top = np.minimum(top, size - 1)
        if width:
            is_open &= np.isfinite(links[np.maximum(top - 1, 0)])
        if not is_open.any():
            break
        weight = 2.0**width
        cross, square = weight * sums[starts, top], weight**2 * own[top, top]
        for sign, signed in ((1, 0), (-1, 1)):
            own_variance = variance + 2 * sign * cross + square
            moved = is_open & (own_variance > 1e-12 * np.maximum(square, 1e-30))
            shares = (covariance + sign * weight * with_target[top]) ** 2
            best = shares.argmax(axis=1)
            share = np.zeros(size)
            share[moved] = shares[starts, best][moved] / own_variance[moved]
            fit[:, width, signed] = share
            lag[:, width, signed] = lags[best]
        variance = variance + 2 * cross + square
        covariance = covariance + weight * with_target[top]
        sums += weight * own[top]
    return fit, lag
