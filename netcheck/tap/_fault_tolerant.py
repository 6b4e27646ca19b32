"""Readings of a low-speed fault-tolerant pair (ISO 11898-3) judged.

All numbers here are from memory and not checked against the standard's text: quiet, high near 0 V and low
near 5 V; asleep, low near the battery's voltage; in a dominant bit, high at least 3.6 V and low at most
1.4 V. Each module terminates each wire on its own, so that there is no one value across the pair.
"""

from __future__ import annotations

from typing import Final, Literal

from netcheck.files import Measured
from netcheck.tap._model import Judged, State

HIGH_QUIET: Final = (-0.3, 0.5)
LOW_QUIET: Final = (4.5, 5.5)
DIFFERENCE_QUIET: Final = (-5.5, -4.0)
ASLEEP_ABOVE: Final = 7.0  # V on low
HIGH_DOMINANT: Final = (3.6, 5.2)
LOW_DOMINANT: Final = (-0.3, 1.4)
DIFFERENCE_DOMINANT: Final = (2.2, 5.5)
_HELD: Final = "Such a pair works on with one wire broken or shorted, so a fault may go unnoticed for long."


def termination(ohms: float | Literal["open"]) -> Judged:
    """Only a short can be told."""
    if ohms != "open" and ohms < 5:
        return Judged(
            State.WRONG,
            "high and low are shorted",
            f"A pinched or chafed cable, or water in a plug. {_HELD}",
            "Unplug one module or section after the other until the reading jumps up.",
        )
    return Judged(
        State.NOTE,
        "says little: each module terminates its own wires, and no single value holds across the pair",
        "",
        "Judge this pair by its voltages.",
    )


def quiet(measured: Measured) -> dict[str, Judged]:
    """Wires to ground and against each other, ignition on and no traffic."""
    high, low = measured.high_idle, measured.low_idle
    if low is not None and low >= ASLEEP_ABOVE and (high is None or abs(high) <= 1.0):
        asleep = Judged(
            State.UNKNOWN,
            "low near the battery's voltage: asleep",
            "A sleeping pair of this kind is held there; a short of low to supply looks the same.",
            "Ignition on, open a door, and measure again.",
        )
        return {"low-idle": asleep} if high is None else {"high-idle": asleep, "low-idle": asleep}
    if high is not None and low is not None and abs(high - 2.5) < 0.5 and abs(low - 2.5) < 0.5:
        other = Judged(
            State.WRONG,
            "2.5 V on both wires is what a high-speed pair has when quiet (ISO 11898-2)",
            "This is another pair, or the vehicle file is wrong about the wires.",
            'Compare pins and colours with the papers; then physical = "high-speed" in the vehicle file.',
        )
        return {"high-idle": other, "low-idle": other}
    bands = (
        ("high-idle", high, HIGH_QUIET),
        ("low-idle", low, LOW_QUIET),
        ("difference-idle", measured.difference_idle, DIFFERENCE_QUIET),
    )
    return {key: _within(volts, band, "quiet") for key, volts, band in bands if volts is not None}


def busy(measured: Measured) -> dict[str, Judged]:
    """A mean says little here: nothing is judged."""
    little = Judged(State.NOTE, "a mean under traffic says little on such a pair")
    values = (("high-busy", measured.high_busy), ("low-busy", measured.low_busy))
    return {key: little for key, volts in values if volts is not None}


def dominant(measured: Measured) -> dict[str, Judged]:
    """Levels in a dominant bit, by oscilloscope."""
    bands = (
        ("high-dominant", measured.high_dominant, HIGH_DOMINANT),
        ("low-dominant", measured.low_dominant, LOW_DOMINANT),
        ("difference-dominant", measured.difference_dominant, DIFFERENCE_DOMINANT),
    )
    return {key: _within(volts, band, "dominant") for key, volts, band in bands if volts is not None}


def _within(volts: float, band: tuple[float, float], when: str) -> Judged:
    if band[0] <= volts <= band[1]:
        return Judged(State.RIGHT, f"as such a pair should be when {when}")
    return Judged(
        State.WRONG,
        f"not what such a pair has when {when}",
        f"A wire is shorted or broken, high and low are swapped, or this is another pair. {_HELD}",
        "Battery off: look for paths to ground, to supply and between the wires.",
    )
