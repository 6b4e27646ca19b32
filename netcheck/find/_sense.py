"""Physical sense: a speed is not negative, an angle is continuous, a share lies between 0 and 100 %."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck.find._quantity_model import Sense
from netcheck.records import dataclass

_SENSELESS: Final = -4.0
_FALLING: Final = -2.0
_TOLERANCE: Final = 0.08  # of its range
_JUMP: Final = 0.3  # of its range from one sample to the next
_CLOSE: Final = 0.35  # s between these
_MOST_JUMPS: Final = 2
SPEEDS: Final = frozenset({"km/h", "kph", "kmh", "mph", "m/s", "rpm", "1/min"})
ANGLES: Final = frozenset({"degrees", "degree", "deg", "°", "rad"})
DISTANCES: Final = frozenset({"m", "cm", "mm"})
SHARES: Final = frozenset({"%", "percent"})


@dataclass(frozen=True)
class SenseCheck:
    """What was looked at, and what it costs: a logarithm of odds."""

    found: tuple[Sense, ...]
    odds: float


def sense_of(
    unit: str, times: NDArray[np.float64], values: NDArray[np.float64], residual: float, *, rises: bool
) -> SenseCheck:
    """Of fitted physical values at samples. rises: whether a larger raw value means more"""
    found = tuple(_checks(unit, times, values, residual, rises=rises))
    costs = {
        Sense.FALLS: _FALLING,
        Sense.NEGATIVE: _SENSELESS,
        Sense.BEYOND: _SENSELESS,
        Sense.JUMPS: _SENSELESS,
    }
    return SenseCheck(found, sum(costs.get(each, 0.0) for each in found))


def _checks(
    unit: str, times: NDArray[np.float64], values: NDArray[np.float64], residual: float, *, rises: bool
) -> Iterator[Sense]:
    low, high = float(values.min()), float(values.max())
    margin = 2 * residual + _TOLERANCE * (high - low)
    unit = unit.lower()
    if unit in SPEEDS | DISTANCES | SHARES:
        yield Sense.RISES if rises else Sense.FALLS
    if unit in SPEEDS | DISTANCES:
        yield Sense.NEVER_NEGATIVE if low >= -margin else Sense.NEGATIVE
    if unit in SHARES:
        yield Sense.WITHIN if low >= -margin and high <= 100 + margin else Sense.BEYOND
    if unit in ANGLES | SPEEDS:
        steps = np.abs(np.diff(values))[np.diff(times) <= _CLOSE]
        jumps = int(np.count_nonzero(steps > _JUMP * (high - low)))
        yield Sense.CONTINUOUS if jumps <= _MOST_JUMPS else Sense.JUMPS
