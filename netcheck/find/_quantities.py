"""The search for a quantity: movements and what is known of it to candidates."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from netcheck.find._behind import put_behind
from netcheck.find._beside import bytes_beside
from netcheck.find._borders import byte_order_lean
from netcheck.find._fit import Fit, Strength, fits_of, raw_values
from netcheck.find._known import Known, KnownKind, KnownSamples, is_rising
from netcheck.find._model import BehindReason, FoundField
from netcheck.find._movements import Movements
from netcheck.find._quantity_model import (
    FittedScale,
    QuantityCandidate,
    QuantityNext,
    QuantityProblem,
    QuantitySearch,
    Sense,
)
from netcheck.find._scale import fitted_scale
from netcheck.find._sense import SenseCheck, sense_of
from netcheck.find._strength import independent_points, strength_of
from netcheck.find._top import with_top
from netcheck.records import dataclass

_LEAST_SECONDS: Final = 3.0
_LEAST_POINTS: Final = 4.5  # below which nothing is trusted
_MOST_UNTRUSTED: Final = 0.5  # score then
_MOST_UNSURE: Final = 0.85  # score where a byte beside it may belong to it
_NO_FIELD: Final = 0.15  # share of searches in which the quantity is on none of the wires
_MOST_FITS: Final = 60
_LINKS: Final = (-6.0, 2.0)  # bounds within which these odds count between messages
_IN_QUIET: Final = -3.5
_MOVED_IN_QUIET: Final = 0.2  # of its range
_CLEAR: Final = 0.9
_RIVAL: Final = 0.2
# In scored runs a right field nearly always explained 90 % of what is known; of what came first where
# the quantity was on no wire nearly all explained less. At 80 % and below the odds of that rise by this.
_POOR: Final = 3.0
_POOR_FROM, _POOR_TO = 0.9, 0.8
_LEAST_ODDS: Final = 0.5  # what is worse is not listed
_ALIKE: Final = 0.998  # squared correlation from which on two fields are taken for copies in any case
_ALIKE_LAGS: Final = (0.0, -0.1, 0.1, -0.2, 0.2)


@dataclass(frozen=True, eq=False)
class _FittedRow:
    """A fit with its scale, and what is said of it."""

    fit: Fit
    samples: KnownSamples
    scale: FittedScale
    residual: float
    sense: SenseCheck
    in_quiet: dict[str, float]
    odds: float


def find_quantity(
    movements: Movements, known: Known | None, role: str, *, unit: str = "", quiet: Sequence[Movements] = ()
) -> QuantitySearch:
    """Which fields of a capture move with what is known of a quantity.

    unit:  of the role, where what is known has none
    quiet: captures in which nobody touched anything
    """
    unit = (known.unit if known else "") or unit
    problem = _problem(movements, known)
    points = 0.0
    candidates: tuple[QuantityCandidate, ...] = ()
    if known is not None and problem is None:
        points = independent_points(known)
        candidates = _candidates(movements, known, unit, strength_of(known, points), quiet)
        if points < _LEAST_POINTS:
            candidates = tuple(replace(each, score=min(each.score, _MOST_UNTRUSTED)) for each in candidates)
    clear = bool(candidates) and candidates[0].score >= _CLEAR
    kind, about = _next(candidates, points, is_clear=clear)
    return QuantitySearch(
        file=movements.file,
        role=role,
        unit=unit,
        frames=movements.frames,
        seconds=movements.seconds,
        known=known if problem is None else None,
        points=points,
        candidates=candidates,
        separated=clear,
        next=kind,
        about=about,
        behind=put_behind(movements, candidates, quiet, rest=BehindReason.NOT_ALIKE),
        messages=len(movements.messages),
        quiet=tuple(each.file for each in quiet),
        problem=problem,
    )


def _problem(movements: Movements, known: Known | None) -> QuantityProblem | None:
    if not movements.has_times:
        return QuantityProblem.NO_TIMES
    if known is None:
        return QuantityProblem.NOTHING_KNOWN
    inside = [(max(begin, 0.0), min(end, movements.seconds)) for begin, end in known.spans]
    seconds = [end - begin for begin, end in inside if end > begin]
    if not seconds:
        return QuantityProblem.OUTSIDE
    if np.ptp(known.samples.values) == 0:
        return QuantityProblem.CONSTANT
    if sum(seconds) < _LEAST_SECONDS or (known.kind is KnownKind.MARKS and len(seconds) < 2):
        return QuantityProblem.TOO_SHORT
    return None


def _candidates(
    movements: Movements, known: Known, unit: str, strength: Strength, quiet: Sequence[Movements]
) -> tuple[QuantityCandidate, ...]:
    fits: list[Fit] = []
    fields = 0
    leans = {
        channel: byte_order_lean(each for each in movements.messages if each.channel == channel)
        for channel in {each.channel for each in movements.messages}
    }
    for message in movements.messages:
        fields += max(int(np.count_nonzero(message.flips())) // 6, 1) if message.flips().any() else 0
        found = fits_of(message, known, strength, leans[message.channel])
        fits += [fit for fit in found if not _is_known(fit, movements, known)]
    fits.sort(key=_order)
    rows = [_row(fit, known, unit, strength, quiet) for fit in fits[:_MOST_FITS]]
    rows = [row for row in rows if row.odds >= _LEAST_ODDS]
    rows.sort(key=lambda row: (-row.odds, *_order(row.fit)))
    groups = _groups(rows)
    base = -math.log(max(fields, 1))
    weights = [math.exp(min(group[0].odds + base, 600.0)) for group in groups]
    total = sum(weights) + _NO_FIELD / (1 - _NO_FIELD) * math.exp(_poor(groups))
    return tuple(
        _candidate(group, min(weight / total, _MOST_UNTRUSTED if _contradicts(group[0]) else 1.0), unit)
        for group, weight in zip(groups, weights, strict=True)
    )


def _poor(groups: Sequence[Sequence[_FittedRow]]) -> float:
    """How much likelier it is, as a logarithm, that the quantity is on no wire, as the best fits so badly."""
    best = groups[0][0].fit.fit if groups else 1.0
    return _POOR * min(max((_POOR_FROM - best) / (_POOR_FROM - _POOR_TO), 0.0), 1.0)


def _contradicts(row: _FittedRow) -> bool:
    """Whether it, or what is known, must be wrong."""
    return Sense.NEGATIVE in row.sense.found or Sense.BEYOND in row.sense.found


def _is_known(fit: Fit, movements: Movements, known: Known) -> bool:
    """Whether it is the known signal itself, which is no finding."""
    return (
        known.place is not None
        and known.place[0] == fit.message.key
        and bool(set(known.place[1]) & set(fit.bits))
        and known.file == movements.file
    )


def _order(fit: Fit) -> tuple[object, ...]:
    message = fit.message
    return (-fit.odds, message.period, message.channel, message.frame_id, fit.bits)


def _row(fit: Fit, known: Known, unit: str, strength: Strength, quiet: Sequence[Movements]) -> _FittedRow:
    usable = is_rising(fit.message.sampled)
    samples = KnownSamples(fit.message.sampled[usable], fit.values()[usable])
    target = known.at(samples.times, fit.lag)
    inside = np.isfinite(target)
    scale, residual = fitted_scale(samples.values[inside], target[inside], strength.points)
    physical = scale.scale * samples.values + scale.offset
    sense = sense_of(unit, samples.times, physical, residual, rises=scale.scale > 0)
    in_quiet = _quiet_shares(fit, samples, quiet)
    moved = any(share > _MOVED_IN_QUIET for share in in_quiet.values())
    low, high = _LINKS
    odds = strength.odds(fit.fit) + min(max(fit.links, low), high) + sense.odds + _IN_QUIET * moved
    odds -= 0.5 * (fit.lag / 0.8) ** 2
    return _FittedRow(fit, KnownSamples(samples.times, physical), scale, residual, sense, in_quiet, odds)


def _quiet_shares(fit: Fit, samples: KnownSamples, quiet: Sequence[Movements]) -> dict[str, float]:
    """How far it moved in quiet captures, against how far it moved in this one."""
    spread = max(float(np.ptp(samples.values)), 1.0)
    found = {}
    for one in quiet:
        for message in one.by_key.get(fit.message.key, ()):
            if message.length < fit.message.length:
                continue
            values = raw_values(message, fit.bits, is_signed=fit.is_signed)
            if len(values):
                found[one.file] = float(np.ptp(values)) / spread
    return {file: share for file, share in found.items() if share > 0.02}


def _groups(rows: Sequence[_FittedRow]) -> list[list[_FittedRow]]:
    """Rows that move alike, as far as what is known can tell; the best one of each first."""
    groups: list[list[_FittedRow]] = []
    for row in rows:
        for group in groups:
            if _alike(group[0], row) >= _least_alike(group[0]):
                group.append(row)
                break
        else:
            groups.append([row])
    return groups


def _least_alike(row: _FittedRow) -> float:
    return min(1 - 0.25 * (1 - row.fit.fit), _ALIKE)


def _alike(one: _FittedRow, other: _FittedRow) -> float:
    """Squared correlation of both."""
    lags = _ALIKE_LAGS if one.samples.apart <= 0.3 else (0.0,)
    return max(_correlation(one.samples, other.samples, lag) for lag in lags)


def _correlation(one: KnownSamples, other: KnownSamples, lag: float) -> float:
    mine = one.at(other.times - lag)
    both = np.isfinite(mine)
    if np.count_nonzero(both) < 8:
        return 0.0
    mine, theirs = mine[both], other.values[both]
    if not mine.std() or not theirs.std():
        return 0.0
    return float(np.corrcoef(mine, theirs)[0, 1] ** 2)


def _candidate(group: Sequence[_FittedRow], score: float, unit: str) -> QuantityCandidate:
    best = group[0]
    near = [row for row in group if best.odds - row.odds < 1.0]
    main = min(near, key=lambda row: (row.fit.message.period, -row.odds, _order(row.fit)))
    fit, message = main.fit, main.fit.message
    field, unmoved, base = with_top(fit, main.scale, unit)
    flips, steps = message.flips(), max(message.count - 1, 1)
    others = [row for row in group if row is not main]
    beside = bytes_beside(message, fit.bits)
    return QuantityCandidate(
        field=field,
        score=round(min(score, _MOST_UNSURE) if beside else score, 4),
        fit=fit.fit,
        residual=main.residual,
        lag=fit.lag,
        scale=replace(main.scale, offset=main.scale.offset - base * main.scale.scale),
        low=float(main.samples.values.min()),
        high=float(main.samples.values.max()),
        unmoved=unmoved,
        low_rate=float(flips[fit.bits[0]]) / steps,
        top_rate=float(flips[fit.bits[-1]]) / steps,
        links=fit.links,
        period=message.period,
        sense=main.sense.found,
        in_quiet=main.in_quiet,
        copies=tuple(with_top(row.fit, row.scale, unit)[0] for row in others),
        beside=beside,
        alike=min((_alike(main, row) for row in others), default=1.0),
    )


def _next(
    candidates: Sequence[QuantityCandidate], points: float, *, is_clear: bool
) -> tuple[QuantityNext, FoundField | None]:
    if not candidates:
        return QuantityNext.NO_FIT, None
    best = candidates[0]
    if is_clear:
        return QuantityNext.USE, best.field
    if best.beside:
        return QuantityNext.BESIDE, best.field
    rivals = [each for each in candidates[1:] if each.score > _RIVAL * best.score]
    if points < _LEAST_POINTS or not rivals:
        return QuantityNext.MORE_TURNS, best.field
    return QuantityNext.RIVALS, rivals[0].field
