"""Readings of a high-speed pair (ISO 11898-2) judged.

Where the numbers come from. From transceiver data sheets that restate the standard: a driver gives 1.5 to
3.0 V from high to low in a dominant bit across 60 ohms; a receiver takes less than 0.5 V as recessive and
more than 0.9 V as dominant, and what lies between is undefined; 120 ohms at each end of the cable. From
general descriptions: about 2.5 V on both wires when quiet. From memory, not checked against the standard's
text: the limits of a single wire, the drivers' load of 50 to 65 ohms, the recessive difference of -0.5 to
0.05 V, levels near 0 V of a sleeping network. Worked out: two terminators in parallel are 60 ohms, one is
120, three are 40.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import Final, Literal

from netcheck.files import Measured
from netcheck.tap._bands import span, taken, within
from netcheck.tap._model import Judged, State

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
_PAPERS: Final = "Some vehicles spread their termination over several modules: their papers decide."
EXPECTED: Final = {
    "termination": f"about 60 Ω ({LOAD[0]:g} to {LOAD[1]:g})",
    "high-shorted": "no",
    "low-shorted": "no",
    "high-idle": f"about 2.5 V ({span(QUIET)})",
    "low-idle": f"about 2.5 V ({span(QUIET)})",
    "difference-idle": f"about 0 V ({span(DIFFERENCE_QUIET)})",
    "high-busy": "a little above 2.5 V",
    "low-busy": "as much below 2.5 V as high is above",
    "high-dominant": f"about 3.5 V ({span(HIGH_DOMINANT)})",
    "low-dominant": f"about 1.5 V ({span(LOW_DOMINANT)})",
    "difference-dominant": f"about 2 V ({span(DRIVEN)})",
}

_SHORT: Final = Judged(
    State.WRONG,
    "high and low are shorted",
    "A pinched or chafed cable, water in a plug, or a defective module.",
    "Unplug one module or section after the other until the reading jumps up.",
)
_THIRD: Final = Judged(
    State.WRONG,
    "about 40 Ω: a third terminator is on the pair",
    "A part with a terminator of its own was added.",
    "Unplug what was added, or take its terminator out, and measure again: about 60 Ω.",
)
_ONE: Final = Judged(
    State.WRONG,
    "about 120 Ω: one of the two terminators is missing",
    "A module with a terminator is unplugged or gone, or a wire between here and there is broken.",
    "Plug every module in and measure again; then measure at the other end of the network.",
)
_MANY: Final = Judged(
    State.WRONG,
    f"below {LOAD[0]:g} Ω, more load than the drivers are made for",
    "More than two terminators, or a partial short.",
    f"Unplug what was added and measure again. {_PAPERS}",
)
_BETWEEN: Final = Judged(
    State.WRONG,
    "neither one terminator nor two",
    "A bad contact, a terminator of another value, or the resistance of the test leads.",
    f"Subtract what the leads read when touched together; measure at another plug. {_PAPERS}",
)
_NONE: Final = Judged(
    State.WRONG,
    "no terminator is seen",
    "A wire is broken, the probes make no contact, or this is no pair of this network.",
    "Touch the probes together (0 Ω), then measure at another plug of the network.",
)
_OHMS: Final = (  # below so many ohms
    (5.0, _SHORT),
    (35.0, _MANY),
    (45.0, _THIRD),
    (47.0, _MANY),
    (LOAD[0], replace(_MANY, state=State.UNKNOWN)),
    (75.0, replace(_BETWEEN, state=State.UNKNOWN)),
    (105.0, _BETWEEN),
    (135.0, _ONE),
    (1000.0, _BETWEEN),
)


def termination(ohms: float | Literal["open"]) -> Judged:
    """Resistance from high to low, battery disconnected."""
    if ohms == "open":
        return _NONE
    if LOAD[0] <= ohms <= LOAD[1]:
        return Judged(State.RIGHT, "two terminators of 120 Ω, one at each end")
    return next((judged for below, judged in _OHMS if ohms < below), _NONE)


def quiet(measured: Measured) -> dict[str, Judged]:
    """Wires to ground and against each other, ignition on and no traffic."""
    high, low = measured.high_idle, measured.low_idle
    if high is not None and low is not None and max(abs(high), abs(low)) < ASLEEP_BELOW:
        asleep = Judged(
            State.UNKNOWN,
            "near 0 V on both wires: asleep, or without supply",
            "A sleeping network is often held at 0 V.",
            "Ignition on, open a door, and measure again.",
        )
        return {"high-idle": asleep, "low-idle": asleep}
    if high is not None and low is not None and high < 1.0 and low >= 4.0:
        other = Judged(
            State.WRONG,
            "0 V and 5 V are what a low-speed fault-tolerant pair has when quiet (ISO 11898-3)",
            "This is another pair, or the vehicle file is wrong about the wires.",
            'Compare pins and colours with the papers; then physical = "fault-tolerant" in the vehicle file.',
        )
        return {"high-idle": other, "low-idle": other}
    return taken(
        ("high-idle", high, partial(_quiet_wire, "high")),
        ("low-idle", low, partial(_quiet_wire, "low")),
        ("difference-idle", measured.difference_idle, _quiet_difference),
    )


def _quiet_wire(wire: str, volts: float) -> Judged:
    if QUIET[0] <= volts <= QUIET[1]:
        return Judged(State.RIGHT, "as a quiet wire should be")
    if volts >= SUPPLY_ABOVE:
        return Judged(
            State.WRONG,
            "near the battery's voltage",
            f"The {wire} wire is shorted to supply, or this is no network wire.",
            "Battery off: look for a path from the wire to supply; compare pin and colour with the papers.",
        )
    if volts < ASLEEP_BELOW:
        return Judged(
            State.WRONG,
            "near 0 V",
            f"The {wire} wire is shorted to ground or broken, or this is no network wire.",
            "Battery off: look for a path from the wire to ground; compare pin and colour with the papers.",
        )
    return Judged(
        State.WRONG,
        "not what a quiet wire has",
        "There was traffic meanwhile, the probe sits on another wire, or a module drags the wire.",
        "Wait until the network is quiet and measure again, both wires.",
    )


def _quiet_difference(volts: float) -> Judged:
    low, high = DIFFERENCE_QUIET
    if low <= volts <= high:
        return Judged(State.RIGHT, "recessive, as it should be without traffic")
    if volts < low:
        return Judged(
            State.WRONG,
            "low stands above high",
            "The probes are swapped, or one wire is shorted.",
            "Swap the probes; if it stays so, measure each wire to ground.",
        )
    if volts < RECESSIVE_BELOW:
        return Judged(
            State.UNKNOWN,
            f"recessive for every receiver (below {RECESSIVE_BELOW:g} V), yet more than quiet drivers leave",
            "Most likely there was traffic: a multimeter shows the mean.",
            "Wait until the network is quiet and measure again.",
        )
    if volts <= DOMINANT_ABOVE:
        return Judged(
            State.UNKNOWN,
            f"between {RECESSIVE_BELOW:g} and {DOMINANT_ABOVE:g} V, which the standard leaves undefined",
            "Heavy traffic, a leak between the wires and supply or ground, or a missing terminator.",
            "Wait until the network is quiet and measure again; then measure the termination, battery off.",
        )
    return Judged(
        State.WRONG,
        "dominant all the time: nobody can send",
        "A defective module holds the pair, or a wire is shorted to supply or ground.",
        "Unplug one module after the other until the difference falls to about 0 V.",
    )


def busy(measured: Measured) -> dict[str, Judged]:
    """A multimeter's mean of each wire while frames run."""
    high, low = measured.high_busy, measured.low_busy
    found = taken(
        ("high-busy", high, partial(_in_traffic, band=HIGH_BUSY)),
        ("low-busy", low, partial(_in_traffic, band=LOW_BUSY)),
    )
    if high is None or low is None:
        return found
    if low > high + 0.05:
        swapped = Judged(
            State.WRONG,
            "under traffic, low should lie below high",
            "High and low are swapped, at the probes or at the plug.",
            "Compare pins and colours with the papers, and swap them.",
        )
        return {"high-busy": swapped, "low-busy": swapped}
    if all(judged.state is State.RIGHT for judged in found.values()) and not (
        BUSY_SUM[0] <= high + low <= BUSY_SUM[1]
    ):
        odd = Judged(
            State.UNKNOWN,
            f"high and low together make {high + low:.2f} V, and about 5 V is usual",
            "Modules with 3.3 V transceivers sit lower; else one wire leaks to ground or supply.",
            "Measure both wires again when the network is quiet.",
        )
        return {"high-busy": odd, "low-busy": odd}
    return found


_in_traffic: Final = partial(
    within,
    right="as a multimeter shows a wire under traffic",
    wrong=Judged(
        State.WRONG,
        "not what a multimeter shows of a wire under traffic",
        "The probe sits on another wire, or the wire is shorted or broken.",
        "Measure again when the network is quiet, then with the battery off.",
    ),
)


def dominant(measured: Measured) -> dict[str, Judged]:
    """Levels in a dominant bit, by oscilloscope."""
    return taken(
        ("high-dominant", measured.high_dominant, partial(_level, band=HIGH_DOMINANT)),
        ("low-dominant", measured.low_dominant, partial(_level, band=LOW_DOMINANT)),
        ("difference-dominant", measured.difference_dominant, _driven),
    )


_level: Final = partial(
    within,
    right="as a driver gives it",
    wrong=Judged(
        State.WRONG,
        "outside what a driver gives",
        "A leak to ground or supply, a weak driver, or a bit in which several modules sent at once.",
        "Look at several frames, away from the first bits and the acknowledgement; then check for shorts.",
    ),
)


def _driven(volts: float) -> Judged:
    low, high = DRIVEN
    if low <= volts <= high:
        return Judged(State.RIGHT, "as a driver gives it across 60 Ω")
    if volts > high:
        return Judged(
            State.WRONG,
            f"above {high:g} V",
            "A terminator is missing, or several modules sent at once in that bit.",
            "Measure the termination with the battery off; look at a bit in the middle of the data.",
        )
    if volts > DOMINANT_ABOVE:
        return Judged(
            State.UNKNOWN,
            f"below the {low:g} V a driver must give, above the {DOMINANT_ABOVE:g} V that receivers need",
            "A long cable, more than two terminators, or a weak driver.",
            "Measure nearer to the sender; measure the termination with the battery off.",
        )
    if volts >= RECESSIVE_BELOW:
        return Judged(
            State.UNKNOWN,
            f"between {RECESSIVE_BELOW:g} and {DOMINANT_ABOVE:g} V, which the standard leaves undefined",
            "More than two terminators, a bad contact, or a weak driver.",
            "Measure the termination with the battery off.",
        )
    return Judged(
        State.WRONG,
        "no receiver takes that as dominant",
        "A short between the wires, or no frame was running.",
        "Check that frames run; measure the termination with the battery off.",
    )
