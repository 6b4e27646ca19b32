"""All that is said of how readings on a pair are taken, and what they should be."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from netcheck.records import dataclass
from netcheck.tap import MeterReading, ReadingKey

Limits = tuple[float | None, float | None] | None


@dataclass(frozen=True)
class KeyWords:
    """How a reading is taken. unit: "" for a word; high_speed, fault_tolerant: what it should be."""

    how: str
    unit: str
    high_speed: Callable[[Limits], str]
    fault_tolerant: Callable[[Limits], str]


def _text(text: str) -> Callable[[Limits], str]:
    return lambda _: text


def _about(text: str) -> Callable[[Limits], str]:
    """The value that is usual, and the limits."""

    def words(limits: Limits) -> str:
        return f"{text}, {limits[0]:g} to {limits[1]:g}" if limits else text

    return words


def _at_least(limits: Limits) -> str:
    return f"at least {limits[0]:g} V" if limits else ""


def _at_most(limits: Limits) -> str:
    return f"at most {limits[1]:g} V" if limits else ""


def _stub(limits: Limits) -> str:
    return f"up to {limits[1]:.2g} m, by guidance" if limits else ""


_SAYS_LITTLE: Final = _text("no fixed value")

KEY_WORDS: Final[Mapping[ReadingKey, KeyWords]] = {
    ReadingKey.TERMINATION: KeyWords(
        "Battery disconnected: resistance from high to low.",
        "Ω",
        _about("about 60 Ω"),
        _text("no fixed value; not near 0 Ω"),
    ),
    ReadingKey.HIGH_SHORTED: KeyWords(
        "Battery disconnected: continuity from high to ground or supply?", "", _text("no"), _text("no")
    ),
    ReadingKey.LOW_SHORTED: KeyWords(
        "Battery disconnected: continuity from low to ground or supply?", "", _text("no"), _text("no")
    ),
    ReadingKey.HIGH_IDLE: KeyWords(
        "Only if the awake pair is silent, rare in a vehicle: DC volts from high to ground.",
        "V",
        _about("about 2.5 V"),
        _text("near 0 V"),
    ),
    ReadingKey.LOW_IDLE: KeyWords(
        "Only if the awake pair is silent, rare in a vehicle: DC volts from low to ground.",
        "V",
        _about("about 2.5 V"),
        _text("about 5 V; asleep, battery voltage"),
    ),
    ReadingKey.DIFFERENCE_IDLE: KeyWords(
        "Only if the awake pair is silent, rare in a vehicle: DC volts from high to low.",
        "V",
        _about("about 0 V"),
        _text("about -5 V"),
    ),
    ReadingKey.HIGH_BUSY: KeyWords(
        "Ignition on, traffic: DC volts (a meter shows the mean) from high to ground.",
        "V",
        _text("a little above 2.5 V"),
        _SAYS_LITTLE,
    ),
    ReadingKey.LOW_BUSY: KeyWords(
        "Ignition on, traffic: DC volts (a meter shows the mean) from low to ground.",
        "V",
        _text("as far below 2.5 V as high is above"),
        _SAYS_LITTLE,
    ),
    ReadingKey.HIGH_DOMINANT: KeyWords(
        "Oscilloscope: voltage of high in a dominant bit.", "V", _about("about 3.5 V"), _at_least
    ),
    ReadingKey.LOW_DOMINANT: KeyWords(
        "Oscilloscope: voltage of low in a dominant bit.", "V", _about("about 1.5 V"), _at_most
    ),
    ReadingKey.DIFFERENCE_DOMINANT: KeyWords(
        "Oscilloscope: voltage from high to low in a dominant bit.", "V", _about("about 2 V"), _at_least
    ),
    ReadingKey.STUB: KeyWords(
        "Length of wire from the network to the new part's plug, in metres.",
        "m",
        _stub,
        _text("no limit known to netcheck"),
    ),
}


def expected_text(reading: MeterReading, physical: str) -> str:
    """What a reading should be on such a pair."""
    words = KEY_WORDS[reading.key]
    expected = words.fault_tolerant if physical == "fault-tolerant" else words.high_speed
    return expected(reading.limits)


def measured_text(reading: MeterReading) -> str:
    """The reading with its unit; "" if it was not taken."""
    if reading.measured is None or isinstance(reading.measured, str):
        return reading.measured or ""
    return f"{reading.measured:g} {KEY_WORDS[reading.key].unit}"
