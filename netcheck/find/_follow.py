"""How well a field's periods follow marks, against what chance would do.

The measure is a logarithm of odds. Each edge of a mark that an edge of the field matches is worth how much
likelier such a match is for the signal that was worked, marked by a person with a watch, than for a signal
that moves as often at other times. What does not match costs what it costs with forgotten or late notes.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from netcheck.find._marks import Asked
from netcheck.find._periods import ActivePeriod
from netcheck.records import dataclass

MATCH: Final = 1.0  # s that an edge may lie away from its mark, besides the lag of the whole
MOST_LAG: Final = 0.8  # s by which a person may be late or early with all marks
_SPREAD: Final = 0.3  # s, standard deviation of a person's watch
_STRAY: Final = 0.15  # share of notes that are just somewhere near
_MISSED_EDGE: Final = math.log(0.08)
_MISSED_MARK: Final = math.log(0.03)
_UNASKED: Final = (-1.6, -1.3, -1.0)  # the first period nobody asked for, the second, each further one
_BRIEF: Final = -0.5  # one that is much shorter than all others: passed on the way
_OF_OTHERS: Final = -3.5  # a period that belongs to the mark of another role
_MOST_PERIODS: Final = 400


@dataclass(frozen=True)
class Following:
    """How a field follows the marks.

    odds:    logarithm, without the number of fields that were looked at
    lag:     s that its edges come after those of the marks, the median
    followed: marks of which it has an edge at least and that it fills
    matched, edges: edges of marks that it has, of those inside the capture
    unasked: periods that no mark of the role asked for
    in_others: how many of these lie in the mark of another role
    """

    odds: float
    lag: float
    followed: int
    matched: int
    edges: int
    unasked: tuple[ActivePeriod, ...]
    in_others: int


def follow(periods: Sequence[ActivePeriod], asked: Asked) -> Following | None:
    """How periods follow the marks; None where they hardly do, or there are far too many."""
    if not periods or len(periods) > _MOST_PERIODS:
        return None
    first = _Alignment(periods, asked, 0.0)
    lags = first.residuals()
    if not lags:
        return None
    lag = min(max(sorted(lags)[len(lags) // 2], -MOST_LAG), MOST_LAG)
    best = _Alignment(periods, asked, lag)
    found = best if best.odds >= first.odds else first
    return found.result()


class _Alignment:
    """Periods to marks, in order, so that the odds are best."""

    def __init__(self, periods: Sequence[ActivePeriod], asked: Asked, lag: float) -> None:
        self._periods, self._asked, self._lag = periods, asked, lag
        durations = sorted(each.seconds for each in periods)
        self._usual = durations[len(durations) // 2]
        seconds = max(asked.seconds, 5.0)
        self._on_rate = max(len(periods), 1) / seconds
        self._off_rate = max(self._on_rate, 0.4 / max(self._usual, 0.05))
        self._costs = [self._cost(each) for each in periods]
        self.pairs: list[tuple[int, int]] = []
        self.odds = self._align()

    def residuals(self) -> list[float]:
        """Edges of the field less those of the marks, s."""
        found = []
        for mark, number in self.pairs:
            for away, _, _ in self._edges(mark, self._periods[number]):
                if away is not None and abs(away) <= MATCH:
                    found.append(away + self._lag)
        return found

    def result(self) -> Following:
        matched = edges = followed = 0
        taken = set()
        pairs = dict(self.pairs)
        for mark in range(len(self._asked.active)):
            edges += sum(map(self._asked.is_inside, self._asked.active[mark]))
            if mark not in pairs:
                continue
            period = self._periods[pairs[mark]]
            taken.add(pairs[mark])
            hits = [
                away for away, _, _ in self._edges(mark, period) if away is not None and abs(away) <= MATCH
            ]
            matched += len(hits)
            followed += bool(hits) and self._fills(mark, period)
        unasked = [number for number in range(len(self._periods)) if number not in taken]
        lags = self.residuals()
        return Following(
            odds=self.odds - 0.5 * (self._lag / 0.4) ** 2,
            lag=sorted(lags)[len(lags) // 2] if lags else 0.0,
            followed=followed,
            matched=matched,
            edges=edges,
            unasked=tuple(self._periods[number] for number in unasked),
            in_others=sum(self._is_of_others(self._periods[number]) for number in unasked),
        )

    def _fills(self, mark: int, period: ActivePeriod) -> bool:
        begin, end = self._asked.active[mark]
        common = min(end + self._lag, period.end) - max(begin + self._lag, period.begin)
        return common >= 0.5 * (end - begin) or end - begin < 2 * MATCH

    def _edges(self, mark: int, period: ActivePeriod) -> list[tuple[float | None, float, float]]:
        """Both edges: how far the field's lies behind, its gap, the rate by chance; None where not seen.

        An edge of a mark at a border of the capture is left out.
        """
        found: list[tuple[float | None, float, float]] = []
        begin, end = self._asked.active[mark]
        sides = (
            (begin, period.begin, period.begin_gap, period.begins, self._on_rate),
            (end, period.end, period.end_gap, period.ends, self._off_rate),
        )
        for time, own, gap, is_seen, rate in sides:
            if not self._asked.is_inside(time):
                continue
            found.append((_away(own, gap, time + self._lag) if is_seen else None, gap, rate))
        return found

    def _pair_odds(self, mark: int, period: ActivePeriod) -> float | None:
        odds, hits = 0.0, 0
        for away, gap, rate in self._edges(mark, period):
            if away is None or abs(away) > MATCH:
                odds += _MISSED_EDGE
            else:
                odds += math.log(_density(away) / (1 + gap) / rate)
                hits += 1
        return odds if hits else None

    def _cost(self, period: ActivePeriod) -> float:
        if self._is_of_others(period):
            return _OF_OTHERS
        return _BRIEF if period.seconds < 0.15 * self._usual else 0.0

    def _is_of_others(self, period: ActivePeriod) -> bool:
        if not self._asked.others:
            return False
        spans = [span for each in self._asked.others.values() for span in each]
        mid = (period.begin + period.end) / 2
        return any(begin - 0.5 <= mid <= end + 0.5 for begin, end in spans)

    def _align(self) -> float:
        """Best sum over marks and periods in order; a table of marks × periods."""
        marks, periods = len(self._asked.active), self._periods
        best = [0.0] * (len(periods) + 1)  # of the marks so far, when the first n periods may be used
        back: list[list[int]] = []
        for mark in range(marks):
            row, steps = [best[0] + _MISSED_MARK], [0]
            for number, period in enumerate(periods):
                choice, value = 0, best[number + 1] + _MISSED_MARK
                if row[-1] > value:
                    choice, value = 1, row[-1]
                if self._is_near(mark, period):
                    odds = self._pair_odds(mark, period)
                    relief = -self._costs[number] - _UNASKED[-1] * (not self._costs[number])
                    if odds is not None and best[number] + odds + relief > value:
                        choice, value = 2, best[number] + odds + relief
                row.append(value)
                steps.append(choice)
            best = row
            back.append(steps)
        place = len(periods)
        for mark in range(marks - 1, -1, -1):
            while place and back[mark][place] == 1:
                place -= 1
            if place and back[mark][place] == 2:
                place -= 1
                self.pairs.append((mark, place))
        self.pairs.reverse()
        return self._sum()

    def _is_near(self, mark: int, period: ActivePeriod) -> bool:
        begin, end = self._asked.active[mark]
        slack = MATCH + self._lag
        return period.begin - period.begin_gap - slack <= end and begin <= period.end + MATCH - self._lag

    def _sum(self) -> float:
        taken = {number for _, number in self.pairs}
        odds = _MISSED_MARK * (len(self._asked.active) - len(self.pairs))
        for mark, number in self.pairs:
            odds += self._pair_odds(mark, self._periods[number]) or 0.0
        plain = 0
        for number, cost in enumerate(self._costs):
            if number not in taken:
                odds += cost or _UNASKED[min(plain, len(_UNASKED) - 1)]
                plain += not cost
        return odds


def _away(time: float, gap: float, marked: float) -> float:
    """How far an edge lies behind a mark's, s; the change happened within the gap before its frame."""
    if time - gap <= marked <= time:
        return 0.0
    return time - marked if time < marked else time - gap - marked


def _density(away: float) -> float:
    """Of a person's mark lying so far from what it marks, 1/s."""
    bell = math.exp(-0.5 * (away / _SPREAD) ** 2) / (_SPREAD * math.sqrt(2 * math.pi))
    return (1 - _STRAY) * bell + _STRAY / (2 * MATCH)
