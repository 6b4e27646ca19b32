"""The raw values of the states of simulated signals, and what they stand at before a script says anything."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import chain

from netcheck.bench._encode import nearest_raw, physical, raw_range
from netcheck.bench._scenario import Key
from netcheck.database import Signal
from netcheck.roles import Watch, raw_values, slack


def key_of(played: Watch) -> Key:
    """Message and signal name of the signal that plays a role."""
    return played.message.name, played.signal.name


def state_values(played: Watch, state: str | int) -> tuple[int, ...]:
    """Raw values of a state: active, a label or a raw number; () for what the signal cannot have."""
    if state == "active":
        return played.active
    low, high = raw_range(played.signal)
    return tuple(raw for raw in raw_values(played.signal, state) if low <= raw <= high)


def inactive_raw(played: Watch) -> float:
    """The raw value that the signal has while the role is not active."""
    return resting_raw(played.signal, played.active, played.not_available)


def start_values(playing: Iterable[Watch]) -> dict[Key, float]:
    """Raw start values of the signals of one network that play roles: inactive, and not "no value"."""
    by_key: dict[Key, list[Watch]] = {}
    for played in playing:
        by_key.setdefault(key_of(played), []).append(played)
    return {
        key: resting_raw(
            several[0].signal,
            tuple(chain.from_iterable(played.active for played in several)),
            tuple(chain.from_iterable(played.not_available for played in several)),
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
    value, allowed = physical(signal, raw), slack(signal)
    return (signal.minimum is None or value >= signal.minimum - allowed) and (
        signal.maximum is None or value <= signal.maximum + allowed
    )
