"""What to measure on a pair, what it should be, and what was measured against that."""

from __future__ import annotations

from types import ModuleType
from typing import Final

from netcheck.files import Measured, Network
from netcheck.network import safe_stub
from netcheck.tap import _fault_tolerant, _high_speed
from netcheck.tap._reading_model import (
    Assessment,
    MeterReading,
    OtherVolts,
    ReadingKey,
    ReadingReason,
    ShortTo,
    State,
)
from netcheck.tap._stub import stub

_AGREE: Final = 0.2  # V, our own rule of thumb: so near a difference is to that of the two wires
# What a technician with a multimeter is asked for; the rest is listed once it was measured.
_ASKED: Final = frozenset(
    {"termination", "high-shorted", "low-shorted", "high-idle", "low-idle", "high-busy", "low-busy", "stub"}
)


def readings(measured: Measured | None, network: Network) -> tuple[MeterReading, ...]:
    """Everything to measure, in the order in which it is measured: with the battery off first."""
    given = measured or Measured()
    complete = _completed(given)
    assessments = _assessments(complete, network) | _differing(given, complete, network)
    taken = complete.model_dump(by_alias=True, exclude_none=True)
    return tuple(
        MeterReading(
            key,
            _limits(key, network),
            taken.get(key) if key in assessments else None,
            assessments.get(key),
        )
        for key in ReadingKey
        if key in assessments or key in _ASKED
    )


def _limits(key: ReadingKey, network: Network) -> tuple[float | None, float | None] | None:
    if key is ReadingKey.STUB:
        rate = max(network.bitrate, network.fd_bitrate or 0)
        return None if network.physical == "fault-tolerant" else (None, safe_stub(rate))
    limits: tuple[float, float] | None = _rules(network).LIMITS.get(key)
    return limits


def _completed(measured: Measured) -> Measured:
    """With the differences that follow from the two wires, where they were not measured themselves."""
    more = {}
    for when in ("idle", "dominant"):
        high, low = getattr(measured, f"high_{when}"), getattr(measured, f"low_{when}")
        if getattr(measured, f"difference_{when}") is None and high is not None and low is not None:
            more[f"difference_{when}"] = round(high - low, 3)
    return measured.model_copy(update=more)


def _differing(given: Measured, complete: Measured, network: Network) -> dict[str, Assessment]:
    """A measured difference that is not that of the two wires, or of which they leave nothing to say."""
    assessments = _assessments(complete, network)
    found: dict[str, Assessment] = {}
    for when in ("idle", "dominant"):
        key = f"difference-{when}"
        difference = getattr(given, f"difference_{when}")
        high, low = getattr(given, f"high_{when}"), getattr(given, f"low_{when}")
        if difference is None:
            continue
        if key not in assessments:
            found[key] = Assessment(State.NOTE, ReadingReason.WIRES_DECIDE)
        elif high is None or low is None:
            continue
        elif abs(difference - (high - low)) > _AGREE and assessments[key].state is State.RIGHT:
            volts = round(high - low, 3)
            found[key] = OtherVolts(State.UNKNOWN, ReadingReason.DIFFERS_FROM_WIRES, volts)
    return found


def _rules(network: Network) -> ModuleType:
    return _fault_tolerant if network.physical == "fault-tolerant" else _high_speed


def _assessments(measured: Measured, network: Network) -> dict[str, Assessment]:
    tolerant = network.physical == "fault-tolerant"
    rules = _rules(network)
    found: dict[str, Assessment] = {}
    if measured.termination is not None:
        found["termination"] = rules.termination(measured.termination)
    for key, shorted in (("high-shorted", measured.high_shorted), ("low-shorted", measured.low_shorted)):
        if shorted is not None:
            found[key] = _shorted(shorted)
    found |= rules.quiet(measured) | rules.busy(measured) | rules.dominant(measured)
    if measured.stub is not None and tolerant:
        found["stub"] = Assessment(State.NOTE, ReadingReason.STUB_NO_RULE)
    elif measured.stub is not None:
        found["stub"] = stub(measured.stub, max(network.bitrate, network.fd_bitrate or 0))
    return found


def _shorted(where: str) -> Assessment:
    if where == "no":
        return Assessment(State.RIGHT, ReadingReason.NOT_SHORTED)
    return ShortTo(State.WRONG, ReadingReason.SHORTED, where)
