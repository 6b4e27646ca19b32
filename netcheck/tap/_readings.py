"""What to measure on a pair, what it should be, and what was measured against that."""

from __future__ import annotations

from types import ModuleType
from typing import Final

from netcheck.files import Measured, Network
from netcheck.tap import _fault_tolerant, _high_speed
from netcheck.tap._model import Judged, MeterReading, State
from netcheck.tap._stub import safe_length, stub

_AGREE: Final = 0.2  # V, our own rule of thumb: so near a difference is to that of the two wires
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


def readings(measured: Measured | None, network: Network) -> tuple[MeterReading, ...]:
    """Everything to measure, in the order in which it is measured: with the battery off first."""
    given = measured or Measured()
    complete = _completed(given)
    judged = _judged(complete, network) | _differing(given, complete, network)
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
        MeterReading(
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


def _differing(given: Measured, complete: Measured, network: Network) -> dict[str, Judged]:
    """A measured difference that is not that of the two wires, or of which they leave nothing to say."""
    judged, found = _judged(complete, network), {}
    for when in ("idle", "dominant"):
        key = f"difference-{when}"
        difference = getattr(given, f"difference_{when}")
        high, low = getattr(given, f"high_{when}"), getattr(given, f"low_{when}")
        if difference is None:
            continue
        if key not in judged:
            found[key] = Judged(State.NOTE, "not judged: the wires' own readings say what is the matter")
        elif high is None or low is None:
            continue
        elif abs(difference - (high - low)) > _AGREE and judged[key].state is State.RIGHT:
            found[key] = Judged(
                State.UNKNOWN,
                f"by the readings of the two wires it is {round(high - low, 3):g} V",
                "The readings are not of the same moment, or one is not what it is called.",
                "Measure all three again, one right after the other.",
            )
    return found


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
