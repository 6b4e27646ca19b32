"""What a look at one pair of wires comes to: findings with their likely cause and the next check."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum


class State(StrEnum):
    """Of a finding, and of the pair as a whole."""

    RIGHT = "right"
    WRONG = "wrong"
    UNKNOWN = "unknown"  # cannot tell, or the standard leaves it open
    NOTE = "note"  # worth saying, decides nothing


@dataclass(frozen=True)
class Finding:
    """Something about the pair's traffic. kind: a stable code.

    text:  what was seen, a clause without a full stop
    cause: the likely cause, a sentence; "" where there is nothing to explain
    next:  the next check, a sentence; ""
    """

    kind: str
    state: State
    text: str
    cause: str = ""
    next: str = ""


@dataclass(frozen=True)
class RoleFound:
    """One need of the item on this pair."""

    role: str
    state: State
    optional: bool
    message: str | None
    signal: str | None
    text: str
    next: str = ""


@dataclass(frozen=True)
class Judged:
    """What a reading means."""

    state: State
    text: str
    cause: str = ""
    next: str = ""


@dataclass(frozen=True)
class MeterReading:
    """One thing to measure on the pair.

    key:      as in ``--measured`` and in the job's ``[measured]`` table
    how:      how to measure it, a sentence
    expected: what it should be
    measured: the reading with its unit; "" if it was not taken
    judged:   None if it was not taken
    """

    key: str
    how: str
    expected: str
    measured: str = ""
    judged: Judged | None = None


@dataclass(frozen=True)
class Listened:
    """What was listened to. source: the file, or the interface with its channel."""

    source: str
    channel: str
    frames: int
    error_frames: int
    seconds: float


@dataclass(frozen=True)
class TapCheck:
    """One pair of wires for one item of a job.

    network:  the one the item is wired to; None while that is undecided
    place:    where the vehicle file says it is reached
    listened: None where nobody listened
    """

    job: str
    vehicle: str
    model_year: int
    item: str
    title: str
    network: str | None
    place: str
    physical: str
    bitrate: int | None
    fd_bitrate: int | None
    verdict: State
    listened: Listened | None
    findings: tuple[Finding, ...]
    roles: tuple[RoleFound, ...]
    readings: tuple[MeterReading, ...]
    cautions: tuple[str, ...]
    warnings: tuple[str, ...] = ()


def worst(states: Iterable[State]) -> State:
    """Wrong before unknown before right; notes decide nothing. Nothing known at all is unknown."""
    found = {state for state in states if state is not State.NOTE}
    for state in (State.WRONG, State.UNKNOWN, State.RIGHT):
        if state in found:
            return state
    return State.UNKNOWN
