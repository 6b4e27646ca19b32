"""Readings of a low-speed fault-tolerant pair (ISO 11898-3) judged.

All numbers here are from memory and not checked against the standard's text: quiet, high near 0 V and low
near 5 V; asleep, low near the battery's voltage; in a dominant bit, high at least 3.6 V and low at most
1.4 V. Each module terminates each wire on its own, so that there is no one value across the pair.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Final, Literal

from netcheck.files import Measured
from netcheck.tap._bands import Band, taken, within
from netcheck.tap._model import Judged, State

HIGH_QUIET: Final = (-0.3, 0.5)
LOW_QUIET: Final = (4.5, 5.5)
DIFFERENCE_QUIET: Final = (-5.5, -4.0)
ASLEEP_ABOVE: Final = 7.0  # V on low
HIGH_DOMINANT: Final = (3.6, 5.2)
LOW_DOMINANT: Final = (-0.3, 1.4)
DIFFERENCE_DOMINANT: Final = (2.2, 5.5)
_HELD: Final = "Such a pair works on with one wire broken or shorted, so a fault may go unnoticed for long."
EXPECTED: Final = {
    "termination": "no single value; not near 0 Ω",
    "high-shorted": "no",
    "low-shorted": "no",
    "high-idle": "near 0 V",
    "low-idle": "about 5 V; asleep, the battery's voltage",
    "difference-idle": "about -5 V",
    "high-busy": "says little",
    "low-busy": "says little",
    "high-dominant": f"at least {HIGH_DOMINANT[0]} V",
    "low-dominant": f"at most {LOW_DOMINANT[1]} V",
    "difference-dominant": f"at least {DIFFERENCE_DOMINANT[0]} V",
}


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
    return taken(
        ("high-idle", high, _rule(HIGH_QUIET, "quiet")),
        ("low-idle", low, _rule(LOW_QUIET, "quiet")),
        ("difference-idle", measured.difference_idle, _rule(DIFFERENCE_QUIET, "quiet")),
    )


def busy(measured: Measured) -> dict[str, Judged]:
    """A mean says little here: nothing is judged."""
    little = Judged(State.NOTE, "a mean under traffic says little on such a pair")
    values = (("high-busy", measured.high_busy), ("low-busy", measured.low_busy))
    return {key: little for key, volts in values if volts is not None}


def dominant(measured: Measured) -> dict[str, Judged]:
    """Levels in a dominant bit, by oscilloscope."""
    return taken(
        ("high-dominant", measured.high_dominant, _rule(HIGH_DOMINANT, "dominant")),
        ("low-dominant", measured.low_dominant, _rule(LOW_DOMINANT, "dominant")),
        ("difference-dominant", measured.difference_dominant, _rule(DIFFERENCE_DOMINANT, "dominant")),
    )


def _rule(band: Band, when: str) -> Callable[[float], Judged]:
    wrong = Judged(
        State.WRONG,
        f"not what such a pair has when {when}",
        f"A wire is shorted or broken, high and low are swapped, or this is another pair. {_HELD}",
        "Battery off: look for paths to ground, to supply and between the wires.",
    )
    return partial(within, band=band, right=f"as such a pair should be when {when}", wrong=wrong)
