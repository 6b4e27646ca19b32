"""Readings of a high-speed pair (ISO 11898-2) assessed.

Where the numbers come from. From transceiver data sheets that restate the standard: a driver gives 1.5 to
3.0 V from high to low in a dominant bit across 60 ohms; a receiver takes less than 0.5 V as recessive and
more than 0.9 V as dominant, and what lies between is undefined; 120 ohms at each end of the cable. From
general descriptions: about 2.5 V on both wires when quiet. From memory, not checked against the standard's
text: the limits of a single wire, the drivers' load of 50 to 65 ohms, the recessive difference of -0.5 to
0.05 V, levels near 0 V of a sleeping network. Worked out: two terminators in parallel are 60 ohms, one is
120, three are 40.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Final, Literal

from netcheck.files import Measured
from netcheck.tap._bands import Band, assessed, within
from netcheck.tap._reading_model import (
    AgainstLimits,
    Assessment,
    OfWire,
    OtherVolts,
    ReadingReason,
    State,
)

QUIET: Final = (2.0, 3.0)  # V, each wire; from memory
DIFFERENCE_QUIET: Final = (-0.5, 0.05)  # V; from memory
RECESSIVE_BELOW: Final = 0.5  # V at a receiver
DOMINANT_ABOVE: Final = 0.9
DRIVEN: Final = (1.5, 3.0)  # V from high to low in a dominant bit
HIGH_DOMINANT: Final = (2.75, 4.5)  # V; from memory
LOW_DOMINANT: Final = (0.5, 2.25)  # V; from memory
HIGH_BUSY: Final = (2.3, 3.5)  # V, a multimeter's mean under traffic: between quiet and dominant
LOW_BUSY: Final = (1.5, 2.6)
BUSY_SUM: Final = (4.2, 5.5)  # V, both together: about 5, less with 3.3 V transceivers (from memory)
ASLEEP_BELOW: Final = 0.5  # V on both wires
SUPPLY_ABOVE: Final = 7.0  # V: more than any transceiver drives
LOAD: Final = (50.0, 65.0)  # ohms; from memory
LIMITS: Final[Mapping[str, Band]] = {
    "termination": LOAD,
    "high-idle": QUIET,
    "low-idle": QUIET,
    "difference-idle": DIFFERENCE_QUIET,
    "high-busy": HIGH_BUSY,
    "low-busy": LOW_BUSY,
    "high-dominant": HIGH_DOMINANT,
    "low-dominant": LOW_DOMINANT,
    "difference-dominant": DRIVEN,
}
_MANY: Final = AgainstLimits(State.WRONG, ReadingReason.TOO_MUCH_LOAD, LOAD)
_BETWEEN: Final = Assessment(State.WRONG, ReadingReason.ODD_RESISTANCE)
_NONE: Final = Assessment(State.WRONG, ReadingReason.NO_TERMINATOR)
_OHMS: Final[tuple[tuple[float, Assessment], ...]] = (  # below so many ohms
    (5.0, Assessment(State.WRONG, ReadingReason.PAIR_SHORTED)),
    (35.0, _MANY),
    (45.0, Assessment(State.WRONG, ReadingReason.THIRD_TERMINATOR)),
    (47.0, _MANY),
    (LOAD[0], AgainstLimits(State.UNKNOWN, ReadingReason.TOO_MUCH_LOAD, LOAD)),
    (75.0, Assessment(State.UNKNOWN, ReadingReason.ODD_RESISTANCE)),
    (105.0, _BETWEEN),
    (135.0, Assessment(State.WRONG, ReadingReason.ONE_TERMINATOR)),
    (1000.0, _BETWEEN),
)


def termination(ohms: float | Literal["open"]) -> Assessment:
    """Resistance from high to low, battery disconnected."""
    if ohms == "open":
        return _NONE
    if LOAD[0] <= ohms <= LOAD[1]:
        return Assessment(State.RIGHT, ReadingReason.TWO_TERMINATORS)
    return next((assessment for below, assessment in _OHMS if ohms < below), _NONE)


def quiet(measured: Measured) -> dict[str, Assessment]:
    """Wires to ground and against each other, ignition on and no traffic."""
    high, low = measured.high_idle, measured.low_idle
    if high is not None and low is not None and max(abs(high), abs(low)) < ASLEEP_BELOW:
        asleep = Assessment(State.UNKNOWN, ReadingReason.ASLEEP)
        return {"high-idle": asleep, "low-idle": asleep}
    if high is not None and low is not None and high < 1.0 and low >= 4.0:
        other = Assessment(State.WRONG, ReadingReason.IS_FAULT_TOLERANT)
        return {"high-idle": other, "low-idle": other}
    return assessed(
        ("high-idle", high, partial(_quiet_wire, "high")),
        ("low-idle", low, partial(_quiet_wire, "low")),
        ("difference-idle", measured.difference_idle, _quiet_difference),
    )


def _quiet_wire(wire: str, volts: float) -> Assessment:
    if QUIET[0] <= volts <= QUIET[1]:
        return Assessment(State.RIGHT, ReadingReason.QUIET_LEVEL)
    if volts >= SUPPLY_ABOVE:
        return OfWire(State.WRONG, ReadingReason.NEAR_BATTERY, wire)
    if volts < ASLEEP_BELOW:
        return OfWire(State.WRONG, ReadingReason.NEAR_ZERO, wire)
    return Assessment(State.WRONG, ReadingReason.NOT_QUIET)


def _quiet_difference(volts: float) -> Assessment:
    low, high = DIFFERENCE_QUIET
    if low <= volts <= high:
        return Assessment(State.RIGHT, ReadingReason.RECESSIVE)
    if volts < low:
        return Assessment(State.WRONG, ReadingReason.LOW_ABOVE_HIGH)
    if volts < RECESSIVE_BELOW:
        return AgainstLimits(State.UNKNOWN, ReadingReason.NEARLY_RECESSIVE, (RECESSIVE_BELOW,))
    if volts <= DOMINANT_ABOVE:
        return AgainstLimits(State.UNKNOWN, ReadingReason.IDLE_UNDEFINED, (RECESSIVE_BELOW, DOMINANT_ABOVE))
    return Assessment(State.WRONG, ReadingReason.ALWAYS_DOMINANT)


def busy(measured: Measured) -> dict[str, Assessment]:
    """A multimeter's mean of each wire while frames run."""
    high, low = measured.high_busy, measured.low_busy
    found = assessed(
        ("high-busy", high, partial(_in_traffic, band=HIGH_BUSY)),
        ("low-busy", low, partial(_in_traffic, band=LOW_BUSY)),
    )
    if high is None or low is None:
        return found
    if low > high + 0.05:
        swapped = Assessment(State.WRONG, ReadingReason.SWAPPED)
        return {"high-busy": swapped, "low-busy": swapped}
    if all(assessment.state is State.RIGHT for assessment in found.values()) and not (
        BUSY_SUM[0] <= high + low <= BUSY_SUM[1]
    ):
        odd = OtherVolts(State.UNKNOWN, ReadingReason.ODD_SUM, high + low)
        return {"high-busy": odd, "low-busy": odd}
    return found


_in_traffic: Final = partial(
    within,
    right=Assessment(State.RIGHT, ReadingReason.BUSY_LEVEL),
    wrong=Assessment(State.WRONG, ReadingReason.NOT_BUSY_LEVEL),
)


def dominant(measured: Measured) -> dict[str, Assessment]:
    """Levels in a dominant bit, by oscilloscope."""
    return assessed(
        ("high-dominant", measured.high_dominant, partial(_level, band=HIGH_DOMINANT)),
        ("low-dominant", measured.low_dominant, partial(_level, band=LOW_DOMINANT)),
        ("difference-dominant", measured.difference_dominant, _driven),
    )


_level: Final = partial(
    within,
    right=Assessment(State.RIGHT, ReadingReason.DRIVER_LEVEL),
    wrong=Assessment(State.WRONG, ReadingReason.NOT_DRIVER_LEVEL),
)


def _driven(volts: float) -> Assessment:
    low, high = DRIVEN
    if low <= volts <= high:
        return Assessment(State.RIGHT, ReadingReason.DRIVEN)
    if volts > high:
        return AgainstLimits(State.WRONG, ReadingReason.DRIVEN_HIGH, (high,))
    if volts > DOMINANT_ABOVE:
        return AgainstLimits(State.UNKNOWN, ReadingReason.DRIVEN_WEAKLY, (DOMINANT_ABOVE, low))
    if volts >= RECESSIVE_BELOW:
        limits = RECESSIVE_BELOW, DOMINANT_ABOVE
        return AgainstLimits(State.UNKNOWN, ReadingReason.DOMINANT_UNDEFINED, limits)
    return Assessment(State.WRONG, ReadingReason.NOT_DOMINANT)
