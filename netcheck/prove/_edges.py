"""When roles changed: for the vehicle's state and for reaction times."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import cached_property
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck.evidence import CaptureSeen, Turns
from netcheck.prove._change_model import VehicleState
from netcheck.records import dataclass
from netcheck.roles import Watch

TERMINAL_15: Final = "terminal-15"
ENGINE: Final = "engine-running"
SPEED: Final = "vehicle-speed"
MOVING: Final = 0.5  # above this the vehicle moves, in the unit of the signal
SETTLING_NS: Final = 1_000_000_000  # after a change of state that is left out of every comparison

Times = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Edges:
    """A role's changes on one channel, times in ns of the log: true is the active state, or moving.

    The first one is the first valid frame.
    """

    watch: Watch
    turns: Turns

    @cached_property
    def rising(self) -> Times:
        """int64[n], ascending: times at which it became active after it was seen inactive."""
        return self._turned(True)

    @cached_property
    def falling(self) -> Times:
        """int64[n], ascending: times at which it became inactive after it was seen active."""
        return self._turned(False)

    def _turned(self, state: bool) -> Times:
        times = self.turns.times_ns[1:]
        return np.sort(times[self.turns.states[1:] == state])

    @cached_property
    def active(self) -> Times:
        """int64[n], ascending: the same, and its first valid frame if it was active then."""
        return np.sort(self.turns.times_ns[self.turns.states])

    @property
    def first_active_ns(self) -> int | None:
        """When it was seen active first."""
        return int(self.active[0]) if len(self.active) else None

    def states_at(self, times_ns: Times) -> list[bool | None]:
        """The state at each time; None before the first valid frame."""
        places = np.searchsorted(self.turns.times_ns, times_ns, "right") - 1
        states = self.turns.states[np.maximum(places, 0)].tolist()
        return [state if place >= 0 else None for place, state in zip(places.tolist(), states, strict=True)]


@dataclass(frozen=True)
class Stretch:
    """A part of a capture in one state, in ns of the log; ``begin`` is in it, ``end`` is not."""

    begin_ns: int
    end_ns: int
    state: VehicleState


@dataclass(frozen=True)
class CaptureEdges:
    """The changes of all watches in a capture, by channel.

    start_ns: the first frame in the file, from which marks count; first_ns, last_ns: the earliest and the
              latest one, ns of the log
    """

    edges: tuple[Edges, ...]
    start_ns: int
    first_ns: int
    last_ns: int

    def of(self, role: str) -> tuple[Edges, ...]:
        """The changes of one role, on every network that carries it."""
        return tuple(entry for entry in self.edges if entry.watch.role == role)

    def stretches(self) -> tuple[Stretch, ...]:
        """The capture in parts of one state each, without the second after a change."""
        told = [next(iter(self.of(role)), None) for role in (TERMINAL_15, ENGINE, SPEED)]
        ends = np.array([self.first_ns, self.last_ns + 1], np.int64)
        borders = np.unique(np.concatenate([ends, *(edges.turns.times_ns for edges in told if edges)]))
        nothing = [None] * len(borders)
        states = zip(*(edges.states_at(borders) if edges else nothing for edges in told), strict=True)
        found: list[Stretch] = []
        known: dict[tuple[bool | None, ...], VehicleState] = {}
        for number, ((begin, end), state) in enumerate(zip(pairwise(borders.tolist()), states, strict=False)):
            start = begin + SETTLING_NS if number else begin
            if start < end:
                if state not in known:
                    known[state] = VehicleState(*state)
                found.append(Stretch(start, end, known[state]))
        return tuple(found)


def capture_edges(
    seen: CaptureSeen, watches: Sequence[Watch], networks: Mapping[str, str | None]
) -> CaptureEdges:
    """Every change of the watched roles that have states, and of the road speed between still and moving.

    seen:     with turns
    networks: per channel, the network that it is
    """
    spans = [channel.traffic for channel in seen.channels if channel.traffic.frames]
    return CaptureEdges(
        tuple(_edges(seen, watches, networks)),
        seen.start_ns,
        min((span.first_ns for span in spans), default=0),
        max((span.last_ns for span in spans), default=0),
    )


def _edges(
    seen: CaptureSeen, watches: Sequence[Watch], networks: Mapping[str, str | None]
) -> Iterator[Edges]:
    channels = sorted(seen.channels, key=lambda channel: channel.name)
    for number, watch in enumerate(watches):
        for channel in channels:
            turns = channel.turns[number]
            if watch.network == networks.get(channel.name) and turns is not None and len(turns.times_ns):
                yield Edges(watch, turns)
