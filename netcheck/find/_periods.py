"""When a field was in its active state, as periods; and how periods of two fields lie to each other."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Final

import numpy as np

from netcheck.find._movements import FieldChanges
from netcheck.records import dataclass

_BLINK: Final = 0.85  # s: the longest dark time of a blinking lamp (60 to 120 flashes a minute)
_LEAST_FLASHES: Final = 3


@dataclass(frozen=True)
class ActivePeriod:
    """A field was active from begin to end, in seconds from the capture's first frame.

    begin_gap, end_gap: since the frame before: the change happened within that time
    begins, ends:       whether it was seen to begin and to end; a border of the capture is neither
    """

    begin: float
    end: float
    begin_gap: float
    end_gap: float
    begins: bool
    ends: bool

    @property
    def seconds(self) -> float:
        """How long it lasted."""
        return self.end - self.begin


def active_periods(
    changes: FieldChanges, active: Collection[int], begin: float, end: float, period: float
) -> tuple[ActivePeriod, ...]:
    """Periods in which a field had one of the values.

    begin, end: of what was seen of its message, s
    period:     of its message: a change is no older than that, unless frames came at changes only
    """
    is_active = np.isin(changes.values, list(active))
    turns = np.flatnonzero(np.diff(is_active)).tolist()
    found = []
    since: tuple[float, float, bool] | None = (begin, 0.0, False) if is_active[0] else None
    for turn in turns:
        time, gap = float(changes.times[turn]), min(float(changes.gaps[turn]), period)
        if since is None:
            since = time, gap, True
        else:
            found.append(ActivePeriod(since[0], time, since[1], gap, since[2], True))
            since = None
    if since is not None:
        found.append(ActivePeriod(since[0], end, since[1], 0.0, since[2], False))
    return tuple(found)


def envelope(periods: Sequence[ActivePeriod]) -> tuple[ActivePeriod, ...]:
    """Periods of blinking as one period each; () where nothing blinks."""
    found: list[list[ActivePeriod]] = []
    for each in periods:
        if found and each.begin - found[-1][-1].end <= _BLINK and each.seconds <= _BLINK:
            found[-1].append(each)
        else:
            found.append([each])
    if not any(len(each) >= _LEAST_FLASHES for each in found):
        return ()
    return tuple(
        ActivePeriod(
            each[0].begin, each[-1].end, each[0].begin_gap, each[-1].end_gap, each[0].begins, each[-1].ends
        )
        for each in found
    )


@dataclass(frozen=True)
class Delay:
    """How one field's periods follow another's, in seconds.

    low, high: the delay lies between them, as far as the gaps between frames tell
    share:     of the first one's edges that the second one has, too
    spread:    of the time stamps
    """

    low: float
    high: float
    share: float
    spread: float


def delay(first: Sequence[ActivePeriod], second: Sequence[ActivePeriod], reach: float) -> Delay | None:
    """How the second one's edges follow the first one's; None where less than four fifths correspond.

    reach: s, no edge is looked for further away
    """
    a, b = _edges(first), _edges(second)
    if not a or not b or not 0.5 <= len(a) / len(b) <= 2:
        return None
    low, high, apart = [], [], []
    times = {kind: np.array([time for time, _, rises in b if rises is kind]) for kind in (True, False)}
    gaps = {kind: [gap for _, gap, rises in b if rises is kind] for kind in (True, False)}
    for time, gap, rises in a:
        if not len(times[rises]):
            continue
        place = int(np.argmin(np.abs(times[rises] - time)))
        away = float(times[rises][place]) - time
        if abs(away) <= reach:
            apart.append(away)
            low.append(away - gaps[rises][place])
            high.append(away + gap)
    share = len(apart) / max(len(a), len(b))
    if share < 0.8:
        return None
    trim = len(apart) // 10
    return Delay(
        low=sorted(low)[-1 - trim],
        high=sorted(high)[trim],
        share=share,
        spread=max(apart) - min(apart),
    )


def _edges(periods: Sequence[ActivePeriod]) -> list[tuple[float, float, bool]]:
    rising = [(each.begin, each.begin_gap, True) for each in periods if each.begins]
    return rising + [(each.end, each.end_gap, False) for each in periods if each.ends]
