"""Which signals carry a role on the bench, and what they stand at before a script says anything."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import chain

from netcheck.bench._encode import nearest_raw, physical, raw_range
from netcheck.bench._scenario import Key
from netcheck.database import Database, Message, Signal
from netcheck.errors import InputError
from netcheck.files import LoadedVehicle

_SLACK = 1e-6  # of a step: decimal limits are not exact in binary


@dataclass(frozen=True)
class Carrier:
    """A signal that carries a role on one network in the model year at hand.

    active:   raw values that mean the active state, the first one first
    missing:  raw values that mean "no value"
    counter:  the message's rolling counter, if the vehicle file names one that the DBC has
    """

    role: str
    network: str
    message: Message
    signal: Signal
    active: tuple[int, ...]
    missing: tuple[int, ...]
    counter: Signal | None

    @property
    def key(self) -> Key:
        """Message and signal name."""
        return self.message.name, self.signal.name

    def inactive(self) -> float:
        """The raw value it has while the role is not active."""
        return resting_raw(self.signal, self.active, self.missing)

    def raw_states(self, state: str | int) -> tuple[int, ...]:
        """Raw values of a state: active, a label or a raw number; () for what the signal cannot have."""
        if state == "active":
            return self.active
        low, high = raw_range(self.signal)
        return tuple(raw for raw in _raw_values(self.signal, state) if low <= raw <= high)


def carriers_of(
    vehicle: LoadedVehicle, year: int, databases: Mapping[str, Database]
) -> Mapping[str, tuple[Carrier, ...]]:
    """The carriers of every role of the vehicle file on these networks; () where nothing carries it.

    Raises InputError for an active label that a signal's value table lacks.
    """
    return {role: tuple(_carriers(vehicle, role, year, databases)) for role in vehicle.model.role}


def _carriers(
    vehicle: LoadedVehicle, role: str, year: int, databases: Mapping[str, Database]
) -> Iterator[Carrier]:
    for number, entry in enumerate(vehicle.model.role[role]):
        if entry.network not in databases or (entry.years and not entry.years[0] <= year <= entry.years[1]):
            continue
        message = databases[entry.network].message(entry.message)
        signal = message.signal(entry.signal) if message is not None else None
        if message is None or signal is None:
            continue
        active: list[int] = []
        for state in entry.active:
            found = _raw_values(signal, state)
            if not found:
                what = f"signal {signal.name} has no value labelled '{state}'"
                raise InputError(vehicle.file, what, where=f"role.{role}[{number}].active")
            active += found
        counter = message.signal(entry.counter) if entry.counter is not None else None
        yield Carrier(
            role, entry.network, message, signal, tuple(active), tuple(entry.not_available), counter
        )


def start_values(carriers: Iterable[Carrier]) -> dict[Key, float]:
    """Raw start values of the signals of one network that carry roles: inactive, and not "no value"."""
    by_key: dict[Key, list[Carrier]] = {}
    for carrier in carriers:
        by_key.setdefault(carrier.key, []).append(carrier)
    return {
        key: resting_raw(
            several[0].signal,
            tuple(chain.from_iterable(carrier.active for carrier in several)),
            tuple(chain.from_iterable(carrier.missing for carrier in several)),
        )
        for key, several in by_key.items()
    }


def resting_raw(signal: Signal, active: tuple[int, ...] = (), missing: tuple[int, ...] = ()) -> float:
    """What a signal stands at: the DBC's start value, else 0, else the next that is right.

    Right is inside the limits, not "no value" and, where there is another, not active.
    """
    for wrong in (frozenset((*active, *missing)), frozenset(missing), frozenset[int]()):
        for raw in _candidates(signal, wrong):
            if raw not in wrong and _is_inside(signal, raw):
                return raw
    return next(_candidates(signal, frozenset()))


def _candidates(signal: Signal, wrong: frozenset[int]) -> Iterator[float]:
    if signal.start_raw is not None:
        yield signal.start_raw
    yield 0
    yield from sorted(signal.labels)
    low, high = raw_range(signal)
    for limit in (signal.minimum, signal.maximum):
        if limit is not None:
            yield nearest_raw(signal, limit)
    yield from range(max(low, 0), min(high, len(wrong) + 1) + 1)


def _is_inside(signal: Signal, raw: float) -> bool:
    low, high = raw_range(signal)
    if not signal.is_float and not low <= raw <= high:
        return False
    value, slack = physical(signal, raw), _SLACK * abs(signal.scale)
    return (signal.minimum is None or value >= signal.minimum - slack) and (
        signal.maximum is None or value <= signal.maximum + slack
    )


def _raw_values(signal: Signal, state: str | int) -> tuple[int, ...]:
    """Raw values of a label or a raw number, in the order of the value table; () for an unknown label."""
    if isinstance(state, int):
        return (state,)
    return tuple(raw for raw, label in signal.labels.items() if label == state)
