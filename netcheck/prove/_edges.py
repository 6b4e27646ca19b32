"""When roles changed: one pass over a capture, for the vehicle's state and for reaction times."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from netcheck.capture import NON_DATA, Capture, CaptureStream
from netcheck.database import extract, is_message
from netcheck.prove._change_model import (
    VehicleState,
)
from netcheck.records import dataclass
from netcheck.roles import Watch, is_any_of

TERMINAL_15: Final = "terminal-15"
ENGINE: Final = "engine-running"
SPEED: Final = "vehicle-speed"
MOVING: Final = 0.5  # above this the vehicle moves, in the unit of the signal
SETTLING_NS: Final = 1_000_000_000  # after a change of state that is left out of every comparison


@dataclass(frozen=True)
class Edges:
    """A role's changes on one channel, times in ns of the log: true is the active state, or moving.

    The first entry is the first valid frame.
    """

    watch: Watch
    times_ns: tuple[int, ...]
    states: tuple[bool, ...]

    def rising(self) -> tuple[int, ...]:
        """Times at which it became active after it was seen inactive."""
        return self._turns(True)

    def falling(self) -> tuple[int, ...]:
        """Times at which it became inactive after it was seen active."""
        return self._turns(False)

    def _turns(self, state: bool) -> tuple[int, ...]:
        pairs = zip(self.times_ns[1:], self.states[1:], strict=True)
        return tuple(time for time, now in pairs if now is state)

    def state_at(self, time_ns: int) -> bool | None:
        """The state at a time; None before the first valid frame."""
        index = int(np.searchsorted(self.times_ns, time_ns, "right")) - 1
        return self.states[index] if index >= 0 else None


@dataclass(frozen=True)
class Stretch:
    """A part of a capture in one state, in ns of the log; ``begin`` is in it, ``end`` is not."""

    begin_ns: int
    end_ns: int
    state: VehicleState


@dataclass
class _Follower:
    """A watch while the chunks go by."""

    watch: Watch
    times: list[int] = field(default_factory=list)
    states: list[bool] = field(default_factory=list)

    def add(self, chunk: Capture, rows: NDArray[np.int64]) -> None:
        found = extract(chunk, self.watch.message, self.watch.signal, rows)
        valid = found.carries & ~is_any_of(found.raw, self.watch.not_available)
        if self.watch.active:
            active = is_any_of(found.raw, self.watch.active)
        else:
            with np.errstate(invalid="ignore"):
                active = found.value > MOVING
        active, times = active[valid], chunk.time_ns[rows][valid]
        if not len(active):
            return
        turned = np.flatnonzero(np.diff(active)) + 1
        if not self.states or self.states[-1] != bool(active[0]):
            turned = np.concatenate([[0], turned])
        self.times += times[turned].tolist()
        self.states += active[turned].tolist()


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
        turns = {time for edges in told if edges for time in edges.times_ns}
        borders = sorted({self.first_ns, self.last_ns + 1, *turns})
        found: list[Stretch] = []
        for number, (begin, end) in enumerate(pairwise(borders)):
            states = [edges.state_at(begin) if edges else None for edges in told]
            start = begin + SETTLING_NS if number else begin
            if start < end:
                found.append(Stretch(start, end, VehicleState(*states)))
        return tuple(found)


def follow(
    stream: CaptureStream, watches: Sequence[Watch], networks: Mapping[str, str | None]
) -> CaptureEdges:
    """Every change of the watched roles that have states, and of the road speed between still and moving.

    networks: per channel, the network that it is
    """
    chosen = [watch for watch in watches if watch.active or watch.role == SPEED]
    followers: dict[tuple[str, int], _Follower] = {}
    first: int | None = None
    start = last = 0
    for chunk in stream.reusing_buffers():
        start = start if first is not None else int(chunk.time_ns[0])
        low, high = int(chunk.time_ns.min()), int(chunk.time_ns.max())
        first, last = low if first is None else min(first, low), max(last, high)
        for index, channel in enumerate(chunk.channels):
            own = [n for n, watch in enumerate(chosen) if watch.network == networks.get(channel)]
            mine = (chunk.channel == index) & ((chunk.flags & NON_DATA) == 0)
            for number in own if mine.any() else ():
                rows = np.flatnonzero(
                    mine & is_message(chosen[number].message, chunk.can_id, chunk.is_extended)
                )
                if len(rows):
                    followers.setdefault((channel, number), _Follower(chosen[number])).add(chunk, rows)
    edges = tuple(
        Edges(entry.watch, tuple(entry.times), tuple(entry.states))
        for _, entry in sorted(followers.items(), key=lambda pair: (pair[0][1], pair[0][0]))
        if entry.times
    )
    return CaptureEdges(edges, start, first or 0, last)
