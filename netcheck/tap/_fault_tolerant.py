"""Readings of a low-speed fault-tolerant pair (ISO 11898-3) assessed.

All numbers here are from memory and not checked against the standard's text: quiet, high near 0 V and low
near 5 V; asleep, low near the battery's voltage; in a dominant bit, high at least 3.6 V and low at most
1.4 V. Each module terminates each wire on its own, so that there is no one value across the pair.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from typing import Final, Literal

from netcheck.files import Measured
from netcheck.tap._bands import Band, assessed, within
from netcheck.tap._reading_model import Assessment, ReadingReason, State

HIGH_QUIET: Final = (-0.3, 0.5)
LOW_QUIET: Final = (4.5, 5.5)
DIFFERENCE_QUIET: Final = (-5.5, -4.0)
ASLEEP_ABOVE: Final = 7.0  # V on low
HIGH_DOMINANT: Final = (3.6, 5.2)
LOW_DOMINANT: Final = (-0.3, 1.4)
DIFFERENCE_DOMINANT: Final = (2.2, 5.5)
LIMITS: Final[Mapping[str, Band]] = {
    "high-idle": HIGH_QUIET,
    "low-idle": LOW_QUIET,
    "difference-idle": DIFFERENCE_QUIET,
    "high-dominant": HIGH_DOMINANT,
    "low-dominant": LOW_DOMINANT,
    "difference-dominant": DIFFERENCE_DOMINANT,
}


def termination(ohms: float | Literal["open"]) -> Assessment:
    """Only a short can be told."""
    if ohms != "open" and ohms < 5:
        return Assessment(State.WRONG, ReadingReason.TOLERANT_SHORTED)
    return Assessment(State.NOTE, ReadingReason.NO_SINGLE_RESISTANCE)


def quiet(measured: Measured) -> dict[str, Assessment]:
    """Wires to ground and against each other, ignition on and no traffic."""
    high, low = measured.high_idle, measured.low_idle
    if low is not None and low >= ASLEEP_ABOVE and (high is None or abs(high) <= 1.0):
        asleep = Assessment(State.UNKNOWN, ReadingReason.LOW_NEAR_BATTERY)
        return {"low-idle": asleep} if high is None else {"high-idle": asleep, "low-idle": asleep}
    if high is not None and low is not None and abs(high - 2.5) < 0.5 and abs(low - 2.5) < 0.5:
        other = Assessment(State.WRONG, ReadingReason.IS_HIGH_SPEED)
        return {"high-idle": other, "low-idle": other}
    right = Assessment(State.RIGHT, ReadingReason.TOLERANT_QUIET)
    wrong = Assessment(State.WRONG, ReadingReason.TOLERANT_NOT_QUIET)
    return assessed(
        ("high-idle", high, _rule(HIGH_QUIET, right, wrong)),
        ("low-idle", low, _rule(LOW_QUIET, right, wrong)),
        ("difference-idle", measured.difference_idle, _rule(DIFFERENCE_QUIET, right, wrong)),
    )


def busy(measured: Measured) -> dict[str, Assessment]:
    """A mean says little here."""
    little = Assessment(State.NOTE, ReadingReason.MEAN_SAYS_LITTLE)
    values = (("high-busy", measured.high_busy), ("low-busy", measured.low_busy))
    return {key: little for key, volts in values if volts is not None}


def dominant(measured: Measured) -> dict[str, Assessment]:
    """Levels in a dominant bit, by oscilloscope."""
    right = Assessment(State.RIGHT, ReadingReason.TOLERANT_DOMINANT)
    wrong = Assessment(State.WRONG, ReadingReason.TOLERANT_NOT_DOMINANT)
    return assessed(
        ("high-dominant", measured.high_dominant, _rule(HIGH_DOMINANT, right, wrong)),
        ("low-dominant", measured.low_dominant, _rule(LOW_DOMINANT, right, wrong)),
        ("difference-dominant", measured.difference_dominant, _rule(DIFFERENCE_DOMINANT, right, wrong)),
    )


def _rule(band: Band, right: Assessment, wrong: Assessment) -> Callable[[float], Assessment]:
    return partial(within, band=band, right=right, wrong=wrong)
