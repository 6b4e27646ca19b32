"""All that is said of what readings on a pair mean: one entry for each reason."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final

from netcheck.report._tap_words import TapWords
from netcheck.tap import (
    AgainstLimits,
    Assessment,
    OfWire,
    OtherVolts,
    ReadingReason,
    ShortTo,
    StubLength,
)

_DIAGRAM: Final = "Compare pins and wire colours with the vehicle's wiring diagram."
_SPREAD: Final = "Some vehicles spread the termination over several modules: their documents decide."
_UNPLUG: Final = "Unplug one module or harness section after the other until the reading jumps up."
_CHAFED: Final = "A pinched or chafed cable, water in a plug, or a defective module."
_TOLERANT: Final = (
    "Such a pair keeps working with one wire broken or shorted, so a fault can go unnoticed for a long time."
)
_WAIT: Final = "Wait until the network is quiet and measure again"
_UNDEFINED: Final = "a range that the standard leaves undefined"


def assessment_words(assessment: Assessment) -> TapWords:
    """What a reading means."""
    return READING_WORDS[assessment.reason](assessment)


# ---------------------------------------------------------------------------- always the same words

_SAME: Final[Mapping[ReadingReason, TapWords]] = {
    ReadingReason.TWO_TERMINATORS: TapWords("two terminators of 120 Ω, one at each end"),
    ReadingReason.PAIR_SHORTED: TapWords("high and low are shorted", _CHAFED, _UNPLUG),
    ReadingReason.TOLERANT_SHORTED: TapWords(
        "high and low are shorted", f"A pinched or chafed cable, or water in a plug. {_TOLERANT}", _UNPLUG
    ),
    ReadingReason.THIRD_TERMINATOR: TapWords(
        "about 40 Ω: there is a third terminator on the pair",
        "An added part has its own terminator.",
        "Unplug the added part or remove its terminator, and measure again: about 60 Ω.",
    ),
    ReadingReason.ONE_TERMINATOR: TapWords(
        "about 120 Ω: one of the two terminators is missing",
        "A module with a terminator is unplugged or removed, or a wire to it is broken.",
        "Plug in every module and measure again. Then measure at the other end of the network.",
    ),
    ReadingReason.ODD_RESISTANCE: TapWords(
        "neither one terminator nor two",
        "A bad contact, a terminator of another value, or the resistance of the test leads.",
        f"Touch the probes together and subtract that reading. Measure at another plug. {_SPREAD}",
    ),
    ReadingReason.NO_TERMINATOR: TapWords(
        "no terminator is seen",
        "A wire is broken, the probes make no contact, or this is not a pair of this network.",
        "Touch the probes together (0 Ω). Then measure at another plug of the network.",
    ),
    ReadingReason.NO_SINGLE_RESISTANCE: TapWords(
        "says little: each module terminates its own wires, so the pair has no fixed resistance",
        next="Check this pair by its voltages.",
    ),
    ReadingReason.NOT_SHORTED: TapWords("no continuity to ground or supply"),
    ReadingReason.QUIET_LEVEL: TapWords("normal for a quiet wire"),
    ReadingReason.NOT_QUIET: TapWords(
        "not the level of a quiet wire",
        "There was traffic, the probe is on another wire, or a module pulls the wire up or down.",
        f"{_WAIT}, both wires.",
    ),
    ReadingReason.ASLEEP: TapWords(
        "near 0 V on both wires: asleep, or without supply",
        "Many networks are at 0 V while asleep.",
        "Switch the ignition on, open a door, and measure again.",
    ),
    ReadingReason.LOW_NEAR_BATTERY: TapWords(
        "low is near battery voltage: asleep",
        "A sleeping pair of this kind is at that level. A short from low to supply looks the same.",
        "Switch the ignition on, open a door, and measure again.",
    ),
    ReadingReason.IS_FAULT_TOLERANT: TapWords(
        "0 V and 5 V are the quiet levels of a low-speed fault-tolerant pair (ISO 11898-3)",
        "This is another pair, or the vehicle file is wrong about the pair.",
        f'{_DIAGRAM} If they are right, set physical = "fault-tolerant" in the vehicle file.',
    ),
    ReadingReason.IS_HIGH_SPEED: TapWords(
        "2.5 V on both wires is the quiet level of a high-speed pair (ISO 11898-2)",
        "This is another pair, or the vehicle file is wrong about the pair.",
        f'{_DIAGRAM} If they are right, set physical = "high-speed" in the vehicle file.',
    ),
    ReadingReason.RECESSIVE: TapWords("recessive, normal without traffic"),
    ReadingReason.LOW_ABOVE_HIGH: TapWords(
        "low is above high",
        "The probes are swapped, or one wire is shorted.",
        "Swap the probes. If nothing changes, measure each wire to ground.",
    ),
    ReadingReason.ALWAYS_DOMINANT: TapWords(
        "dominant all the time: no module can send",
        "A defective module holds the pair dominant, or a wire is shorted to supply or ground.",
        "Unplug one module after the other until the difference falls to about 0 V.",
    ),
    ReadingReason.BUSY_LEVEL: TapWords("normal on a multimeter under traffic"),
    ReadingReason.NOT_BUSY_LEVEL: TapWords(
        "not what a multimeter shows under traffic",
        "The probe is on another wire, or the wire is shorted or broken.",
        f"{_WAIT}. Then measure with the battery off.",
    ),
    ReadingReason.SWAPPED: TapWords(
        "under traffic, low must be below high",
        "High and low are swapped, at the probes or at the plug.",
        f"{_DIAGRAM} Swap the two wires if they are wrong.",
    ),
    ReadingReason.MEAN_SAYS_LITTLE: TapWords("a mean under traffic says little on such a pair"),
    ReadingReason.DRIVER_LEVEL: TapWords("a normal driver level"),
    ReadingReason.NOT_DRIVER_LEVEL: TapWords(
        "outside the driver's range",
        "A leak to ground or supply, a weak driver, or a bit in which several modules sent at once.",
        "Look at several frames, away from the first bits and the acknowledgement. Then check for shorts.",
    ),
    ReadingReason.DRIVEN: TapWords("a normal driver level across 60 Ω"),
    ReadingReason.NOT_DOMINANT: TapWords(
        "no receiver reads that as dominant",
        "A short between the wires, or there was no frame.",
        "Check that there is traffic. Measure the termination with the battery off.",
    ),
    ReadingReason.TOLERANT_QUIET: TapWords("normal for such a pair when quiet"),
    ReadingReason.TOLERANT_DOMINANT: TapWords("normal for such a pair when dominant"),
    ReadingReason.STUB_NO_RULE: TapWords("not assessed: the guidance is for high-speed pairs"),
    ReadingReason.WIRES_DECIDE: TapWords("not assessed: the readings of the two wires show the fault"),
}


def _same(assessment: Assessment) -> TapWords:
    return _SAME[assessment.reason]


# ---------------------------------------------------------------------------- words with numbers


def _too_much_load(found: AgainstLimits) -> TapWords:
    return TapWords(
        f"below {found.limits[0]:g} Ω: more load than the drivers are designed for",
        "More than two terminators, or a partial short.",
        f"Unplug added parts and measure again. {_SPREAD}",
    )


def _near_battery(found: OfWire) -> TapWords:
    return TapWords(
        "near battery voltage",
        f"The {found.wire} wire is shorted to supply, or this is not a network wire.",
        f"Battery off: look for a connection from the wire to supply. {_DIAGRAM}",
    )


def _near_zero(found: OfWire) -> TapWords:
    return TapWords(
        "near 0 V",
        f"The {found.wire} wire is shorted to ground or broken, or this is not a network wire.",
        f"Battery off: look for a connection from the wire to ground. {_DIAGRAM}",
    )


def _shorted(found: ShortTo) -> TapWords:
    return TapWords(
        f"shorted to {found.to}",
        _CHAFED,
        "Unplug one module or harness section after the other until the short is gone.",
    )


def _nearly_recessive(found: AgainstLimits) -> TapWords:
    return TapWords(
        f"recessive for every receiver (below {found.limits[0]:g} V), but more than quiet drivers leave",
        "There was traffic: a multimeter shows the mean.",
        f"{_WAIT}.",
    )


def _idle_undefined(found: AgainstLimits) -> TapWords:
    return TapWords(
        f"between {found.limits[0]:g} and {found.limits[1]:g} V, {_UNDEFINED}",
        "Heavy traffic, a leak from the wires to supply or ground, or a missing terminator.",
        f"{_WAIT}. Then measure the termination with the battery off.",
    )


def _odd_sum(found: OtherVolts) -> TapWords:
    return TapWords(
        f"high and low add up to {found.volts:.2f} V; about 5 V is normal",
        "Modules with 3.3 V transceivers are lower. Otherwise one wire leaks to ground or supply.",
        "Measure both wires again when the network is quiet.",
    )


def _driven_high(found: AgainstLimits) -> TapWords:
    return TapWords(
        f"above {found.limits[0]:g} V",
        "A terminator is missing, or several modules sent at once in that bit.",
        "Measure the termination with the battery off. Look at a bit in the middle of the data.",
    )


def _driven_weakly(found: AgainstLimits) -> TapWords:
    return TapWords(
        f"below the {found.limits[1]:g} V that a driver must give, above the {found.limits[0]:g} V that "
        "receivers "
        "need",
        "A long cable, more than two terminators, or a weak driver.",
        "Measure nearer to the sender. Measure the termination with the battery off.",
    )


def _dominant_undefined(found: AgainstLimits) -> TapWords:
    return TapWords(
        f"between {found.limits[0]:g} and {found.limits[1]:g} V, {_UNDEFINED}",
        "More than two terminators, a bad contact, or a weak driver.",
        "Measure the termination with the battery off.",
    )


def _shorted_tolerant(when: str) -> Callable[[Assessment], TapWords]:
    words = TapWords(
        f"not the level of such a pair when {when}",
        f"A wire is shorted or broken, high and low are swapped, or this is another pair. {_TOLERANT}",
        "Battery off: look for connections to ground, to supply and between the wires.",
    )
    return lambda _: words


def _stub_safe(found: StubLength) -> TapWords:
    return TapWords(f"within {found.safe_m:.2g} m, which is safe by guidance at this bit rate")


_REFLECTIONS: Final = "Reflections from a long stub disturb the next bits."
_RUN_THROUGH: Final = "run the network's cable to the part and back."


def _stub_long(found: StubLength) -> TapWords:
    over = f"longer than the {found.safe_m:.2g} m that are safe by guidance"
    if found.lax_m is None:
        return TapWords(
            f"{over}; no table known to netcheck goes above 1 Mbit/s",
            _REFLECTIONS,
            f"Shorten the stub, or {_RUN_THROUGH}",
        )
    return TapWords(
        f"{over}, within the {found.lax_m:g} m of a less strict table",
        _REFLECTIONS,
        "Shorten the stub if you can. Otherwise record with the part fitted, and look for error frames with "
        "netcheck survey.",
    )


def _stub_too_long(found: StubLength) -> TapWords:
    return TapWords(
        f"longer than the {found.safe_m:.2g} m that are safe by guidance, and than the {found.lax_m:g} m of "
        "a less "
        "strict table",
        _REFLECTIONS,
        f"Tap nearer to the network's cable, or {_RUN_THROUGH}",
    )


def _differs_from_wires(found: OtherVolts) -> TapWords:
    return TapWords(
        f"the readings of the two wires give {found.volts:g} V",
        "The readings were not taken at the same moment, or two of them are mixed up.",
        "Measure all three again, one right after the other.",
    )


READING_WORDS: Final[Mapping[ReadingReason, Callable[[Any], TapWords]]] = {
    **dict.fromkeys(_SAME, _same),
    ReadingReason.TOO_MUCH_LOAD: _too_much_load,
    ReadingReason.NEAR_BATTERY: _near_battery,
    ReadingReason.NEAR_ZERO: _near_zero,
    ReadingReason.SHORTED: _shorted,
    ReadingReason.NEARLY_RECESSIVE: _nearly_recessive,
    ReadingReason.IDLE_UNDEFINED: _idle_undefined,
    ReadingReason.ODD_SUM: _odd_sum,
    ReadingReason.DRIVEN_HIGH: _driven_high,
    ReadingReason.DRIVEN_WEAKLY: _driven_weakly,
    ReadingReason.DOMINANT_UNDEFINED: _dominant_undefined,
    ReadingReason.TOLERANT_NOT_QUIET: _shorted_tolerant("quiet"),
    ReadingReason.TOLERANT_NOT_DOMINANT: _shorted_tolerant("dominant"),
    ReadingReason.STUB_SAFE: _stub_safe,
    ReadingReason.STUB_LONG: _stub_long,
    ReadingReason.STUB_TOO_LONG: _stub_too_long,
    ReadingReason.DIFFERS_FROM_WIRES: _differs_from_wires,
}
