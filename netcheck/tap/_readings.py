"""What to measure on a pair, what it should be, and what was measured against that."""

from __future__ import annotations

from types import ModuleType
from typing import Any, Final

from pydantic import ValidationError

from netcheck.errors import UsageError
from netcheck.files import Measured, Network, one_of
from netcheck.tap import _fault_tolerant, _high_speed
from netcheck.tap._model import Judged, Reading, State
from netcheck.tap._stub import safe_length, stub

_UNITS: Final = {"termination": "Ω", "stub": "m", "high-shorted": "", "low-shorted": ""}  # others are volts
_HOW: Final = {
    "termination": "Battery disconnected: ohms from high to low.",
    "high-shorted": "Battery disconnected: does high beep to ground or supply?",
    "low-shorted": "Battery disconnected: does low beep to ground or supply?",
    "high-idle": "Ignition on, no traffic: volts from high to ground.",
    "low-idle": "Ignition on, no traffic: volts from low to ground.",
    "difference-idle": "Ignition on, no traffic: volts from high to low.",
    "high-busy": "Ignition on, traffic: volts from high to ground.",
    "low-busy": "Ignition on, traffic: volts from low to ground.",
    "high-dominant": "Oscilloscope: volts of high in a dominant bit.",
    "low-dominant": "Oscilloscope: volts of low in a dominant bit.",
    "difference-dominant": "Oscilloscope: volts from high to low in a dominant bit.",
    "stub": "Metres of wire from the network to the new part's plug.",
}
# What a technician with a multimeter is asked for; the rest is listed once it was measured.
_ASKED: Final = frozenset(
    {"termination", "high-shorted", "low-shorted", "high-idle", "low-idle", "high-busy", "low-busy", "stub"}
)


def parse_measured(texts: list[str]) -> Measured:
    """``termination=60.4 high-idle=2.51`` as a model. Raises UsageError that says what would be right."""
    values: dict[str, Any] = {}
    for word in " ".join(texts).replace(",", " ").split():
        key, equals, value = word.partition("=")
        keys = [*_HOW]
        if not equals or not value:
            raise UsageError(f"--measured: '{word}' is no key=value", remedy="such as termination=60.4")
        if key not in keys:
            raise UsageError(f"--measured: no reading is called '{key}'", remedy=one_of(key, keys))
        if key in values:
            raise UsageError(f"--measured: '{key}' is given twice", remedy="give it once")
        values[key] = _value(key, value)
    try:
        return Measured.model_validate(values)
    except ValidationError as error:
        key = str(error.errors()[0]["loc"][0])
        remedy = "no, ground or supply" if key.endswith("-shorted") else "a number not below 0"
        raise UsageError(f"--measured: {key}={values[key]} is not possible", remedy=remedy) from error


def _value(key: str, text: str) -> float | str:
    if key.endswith("-shorted"):
        return text
    if key == "termination" and text.lower() in {"open", "ol"}:  # as meters show it
        return "open"
    try:
        return float(text.removesuffix("V").removesuffix("m").removesuffix("Ω"))
    except ValueError as error:
        raise UsageError(f"--measured: {key}={text} is no number", remedy=f"such as {key}=2.5") from error


def readings(measured: Measured | None, network: Network) -> tuple[Reading, ...]:
    """Everything to measure, in the order in which it is measured: with the battery off first."""
    complete = _completed(measured or Measured())
    judged = _judged(complete, network)
    taken = {
        key: value
        for key, value in complete.model_dump(by_alias=True, exclude_none=True).items()
        if key in judged
    }
    rate = max(network.bitrate, network.fd_bitrate or 0)
    stub_text = f"up to {safe_length(rate):.2g} m, by guidance"
    if network.physical == "fault-tolerant":
        stub_text = "no limit known to netcheck"
    return tuple(
        Reading(
            key,
            _HOW[key],
            _rules(network).EXPECTED.get(key, stub_text),
            _shown(key, taken[key]) if key in taken else "",
            judged.get(key),
        )
        for key in _HOW
        if key in taken or key in _ASKED
    )


def _completed(measured: Measured) -> Measured:
    """With the differences that follow from the two wires, where they were not measured themselves."""
    more = {}
    for when in ("idle", "dominant"):
        high, low = getattr(measured, f"high_{when}"), getattr(measured, f"low_{when}")
        if getattr(measured, f"difference_{when}") is None and high is not None and low is not None:
            more[f"difference_{when}"] = round(high - low, 3)
    return measured.model_copy(update=more)


def _shown(key: str, value: float | str) -> str:
    if isinstance(value, str):
        return value
    return f"{value:g} {_UNITS.get(key, 'V')}"


def _rules(network: Network) -> ModuleType:
    return _fault_tolerant if network.physical == "fault-tolerant" else _high_speed


def _judged(measured: Measured, network: Network) -> dict[str, Judged]:
    tolerant = network.physical == "fault-tolerant"
    rules = _rules(network)
    found: dict[str, Judged] = {}
    if measured.termination is not None:
        found["termination"] = rules.termination(measured.termination)
    for key, shorted in (("high-shorted", measured.high_shorted), ("low-shorted", measured.low_shorted)):
        if shorted is not None:
            found[key] = _shorted(shorted)
    found |= rules.quiet(measured) | rules.busy(measured) | rules.dominant(measured)
    if measured.stub is not None and tolerant:
        found["stub"] = Judged(State.NOTE, "not judged: the guidance at hand is for high-speed pairs")
    elif measured.stub is not None:
        found["stub"] = stub(measured.stub, max(network.bitrate, network.fd_bitrate or 0))
    return found


def _shorted(where: str) -> Judged:
    if where == "no":
        return Judged(State.RIGHT, "free of ground and supply")
    return Judged(
        State.WRONG,
        f"shorted to {where}",
        "A pinched or chafed cable, water in a plug, or a defective module.",
        "Unplug one module or section after the other until the short is gone.",
    )
