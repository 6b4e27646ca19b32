"""A signal that plays a role, with its states: what to look for in a capture."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck.database import Message, Signal
from netcheck.records import dataclass

LIMIT_SLACK: Final = 1e-6  # of one step: decimal limits are not exact in binary


@dataclass(frozen=True)
class Watch:
    """One signal to observe on every channel.

    active:        raw values that mean the active state; () for a role without one
    not_available: raw values that mean "no value"
    counter:       the message's rolling counter, if the role names one
    """

    role: str
    network: str
    message: Message
    signal: Signal
    active: tuple[int, ...] = ()
    not_available: tuple[int, ...] = ()
    counter: Signal | None = None


def slack(signal: Signal) -> float:
    """How far a physical value may lie beyond a decimal limit and still be at it."""
    return LIMIT_SLACK * abs(signal.scale)


def is_inside(signal: Signal, value: NDArray[np.float64]) -> NDArray[np.bool_]:
    """bool[n]: physical values within the signal's limits, as far as it has any; NaN is within none."""
    allowed, inside = slack(signal), np.ones(len(value), np.bool_)
    if signal.minimum is not None:
        inside &= value >= signal.minimum - allowed
    if signal.maximum is not None:
        inside &= value <= signal.maximum + allowed
    return inside


def is_any_of(raw: NDArray[np.generic], wanted: Iterable[int]) -> NDArray[np.bool_]:
    """bool[n]: raw values that are one of ``wanted``; exact for 64-bit values."""
    found = np.zeros(len(raw), np.bool_)
    for number in wanted:
        found |= raw == number
    return found


def raw_values(signal: Signal, state: str | int) -> tuple[int, ...]:
    """Raw values of a state: a value-table label, or a raw number; () for a label the signal lacks."""
    if isinstance(state, int):
        return (state,)
    return tuple(raw for raw, label in signal.labels.items() if label == state)
