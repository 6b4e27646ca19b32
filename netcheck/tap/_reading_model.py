"""What a reading of the meter comes to: place, state and reason. Their words are in ``report/``."""

from __future__ import annotations

from enum import StrEnum

from netcheck.records import dataclass


class State(StrEnum):
    """Of a finding, and of the pair as a whole."""

    RIGHT = "right"
    WRONG = "wrong"
    UNKNOWN = "unknown"  # cannot tell, or the standard leaves it open
    NOTE = "note"  # worth saying, decides nothing


class ReadingKey(StrEnum):
    """What is measured, as in ``--measured`` and in the job's ``[measured]`` table, battery off first."""

    TERMINATION = "termination"
    HIGH_SHORTED = "high-shorted"
    LOW_SHORTED = "low-shorted"
    HIGH_IDLE = "high-idle"
    LOW_IDLE = "low-idle"
    DIFFERENCE_IDLE = "difference-idle"
    HIGH_BUSY = "high-busy"
    LOW_BUSY = "low-busy"
    HIGH_DOMINANT = "high-dominant"
    LOW_DOMINANT = "low-dominant"
    DIFFERENCE_DOMINANT = "difference-dominant"
    STUB = "stub"


class ReadingReason(StrEnum):
    """What a reading means."""

    TWO_TERMINATORS = "two-terminators"
    PAIR_SHORTED = "pair-shorted"
    TOLERANT_SHORTED = "tolerant-shorted"
    TOO_MUCH_LOAD = "too-much-load"
    THIRD_TERMINATOR = "third-terminator"
    ONE_TERMINATOR = "one-terminator"
    ODD_RESISTANCE = "odd-resistance"
    NO_TERMINATOR = "no-terminator"
    NO_SINGLE_RESISTANCE = "no-single-resistance"
    NOT_SHORTED = "not-shorted"
    SHORTED = "shorted"
    QUIET_LEVEL = "quiet-level"
    NEAR_BATTERY = "near-battery"
    NEAR_ZERO = "near-zero"
    NOT_QUIET = "not-quiet"
    ASLEEP = "asleep"
    LOW_NEAR_BATTERY = "low-near-battery"
    IS_FAULT_TOLERANT = "is-fault-tolerant"
    IS_HIGH_SPEED = "is-high-speed"
    RECESSIVE = "recessive"
    LOW_ABOVE_HIGH = "low-above-high"
    NEARLY_RECESSIVE = "nearly-recessive"
    IDLE_UNDEFINED = "idle-undefined"
    ALWAYS_DOMINANT = "always-dominant"
    BUSY_LEVEL = "busy-level"
    NOT_BUSY_LEVEL = "not-busy-level"
    SWAPPED = "swapped"
    ODD_SUM = "odd-sum"
    MEAN_SAYS_LITTLE = "mean-says-little"
    DRIVER_LEVEL = "driver-level"
    NOT_DRIVER_LEVEL = "not-driver-level"
    DRIVEN = "driven"
    DRIVEN_HIGH = "driven-high"
    DRIVEN_WEAKLY = "driven-weakly"
    DOMINANT_UNDEFINED = "dominant-undefined"
    NOT_DOMINANT = "not-dominant"
    TOLERANT_QUIET = "tolerant-quiet"
    TOLERANT_NOT_QUIET = "tolerant-not-quiet"
    TOLERANT_DOMINANT = "tolerant-dominant"
    TOLERANT_NOT_DOMINANT = "tolerant-not-dominant"
    STUB_SAFE = "stub-safe"
    STUB_LONG = "stub-long"
    STUB_TOO_LONG = "stub-too-long"
    STUB_NO_RULE = "stub-no-rule"
    WIRES_DECIDE = "wires-decide"
    DIFFERS_FROM_WIRES = "differs-from-wires"


@dataclass(frozen=True)
class Assessment:
    """What a reading means; subclasses add the facts."""

    state: State
    reason: ReadingReason


@dataclass(frozen=True)
class AgainstLimits(Assessment):
    """limits: V or Ω that the sentence names, ascending."""

    limits: tuple[float, ...]


@dataclass(frozen=True)
class OfWire(Assessment):
    """wire: "high" or "low"."""

    wire: str


@dataclass(frozen=True)
class ShortTo(Assessment):
    """to: "ground" or "supply"."""

    to: str


@dataclass(frozen=True)
class OtherVolts(Assessment):
    """volts: high and low together, or from high to low by the readings of the two wires."""

    volts: float


@dataclass(frozen=True)
class StubLength(Assessment):
    """Metres: safe by guidance; of a laxer table, None above 1 Mbit/s."""

    safe_m: float
    lax_m: float | None


@dataclass(frozen=True)
class MeterReading:
    """One thing to measure on the pair.

    limits:     least and most that it should be, None for no such limit; None where no number is known
    measured:   in Ω, V or m, or a word as it is typed; None if it was not taken
    assessment: None if it was not taken
    """

    key: ReadingKey
    limits: tuple[float | None, float | None] | None
    measured: float | str | None = None
    assessment: Assessment | None = None
