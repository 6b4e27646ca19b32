"""Frames sent when they are due, each by its own deadline on the monotonic clock, so that nothing drifts."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from dataclasses import field
from enum import StrEnum
from itertools import chain, islice
from typing import Final, Protocol, TypeVar

import numpy as np
from numpy.typing import NDArray

from netcheck.bench._target import WireId
from netcheck.records import dataclass

T = TypeVar("T")
_BIN_US: Final = 10
_BINS: Final = 100_000  # the last holds a second and more
LOOK_NS: Final = 50_000_000  # how often the state of the bus is asked for


class Clock(Protocol):
    """What playing needs of a clock."""

    def now_ns(self) -> int:
        """Monotonic nanoseconds."""

    def sleep(self, seconds: float) -> None:
        """Wait about that long."""


class SystemClock:
    """The machine's monotonic clock."""

    def now_ns(self) -> int:
        """Monotonic nanoseconds."""
        return time.monotonic_ns()

    def sleep(self, seconds: float) -> None:
        """Wait about that long."""
        time.sleep(seconds)


class StopReason(StrEnum):
    """Why sending ended before its end."""

    INTERRUPTED = "interrupted"  # by a person
    REFUSED = "refused"  # the interface accepts no more frames
    BUS_OFF = "bus-off"
    FOREIGN_SENDER = "foreign-sender"  # another node sends an id that only we should send
    INTERFACE_LOST = "interface-lost"


@dataclass(frozen=True)
class SendStop:
    """What ended sending before its end.

    bus:  interface and channel; "" where a person ended it
    ids:  of a foreign sender
    said: what the driver said
    """

    reason: StopReason
    bus: str = ""
    ids: tuple[WireId, ...] = ()
    said: str = ""


class BusStopped(Exception):  # noqa: N818 - an end, not a fault of the call
    """A bus takes no more frames; ``stop`` says why."""

    def __init__(self, stop: SendStop) -> None:
        super().__init__(stop.reason.value, stop.bus, stop.said)
        self.stop = stop


@dataclass
class Lateness:
    """How late frames were handed over, in bounded memory: counts of 10 µs each, and the exact greatest."""

    max_us: float = 0.0
    frames: int = 0
    _counts: NDArray[np.int64] = field(default_factory=lambda: np.zeros(_BINS, np.int64), repr=False)

    def add(self, late_ns: int) -> None:
        """Count a frame."""
        late_us = max(late_ns, 0) / 1000
        self.max_us = max(self.max_us, late_us)
        self._counts[min(int(late_us) // _BIN_US, _BINS - 1)] += 1
        self.frames += 1

    def percentile_us(self, percent: float) -> float:
        """Nearest rank, as the upper end of its count; 0 without any frame."""
        if not self.frames:
            return 0.0
        rank = max(int(np.ceil(percent / 100 * self.frames)), 1)
        found = int(np.searchsorted(np.cumsum(self._counts), rank))
        return min(float((found + 1) * _BIN_US), self.max_us)


@dataclass(frozen=True)
class Played:
    """How far it got.

    sent:    frames handed over
    seconds: from the first deadline to the end, on the monotonic clock
    stop:    what ended it before its end; None if nothing did
    speed:   as asked; at 0 nothing was due, and lateness is how long a frame took to hand over
    """

    sent: int
    seconds: float
    lateness: Lateness
    stop: SendStop | None = None
    speed: float = 1.0

    @property
    def is_interrupted(self) -> bool:
        """A person ended it."""
        return self.stop is not None and self.stop.reason is StopReason.INTERRUPTED


def play(
    frames: Iterable[tuple[int, T]],
    send: Callable[[T], None],
    look: Callable[[], None] = lambda: None,
    *,
    speed: float = 1.0,
    clock: Clock | None = None,
    look_ns: int = LOOK_NS,
) -> Played:
    """Send frames when they are due, until they end, the bus stops or a person interrupts.

    frames: nanoseconds from the start, and what to send; a frame that is due before the one ahead goes
            right behind it
    send:   hands a frame over; raises BusStopped when the bus takes no more
    look:   called every ``look_ns`` or so, also while waiting; raises BusStopped when the bus is gone
    speed:  2 is twice as fast; 0 is as fast as the frames are taken
    """
    clock = clock or SystemClock()
    lateness = Lateness()
    stop = None
    start = looked = clock.now_ns()
    try:
        upcoming = iter(frames)
        first = list(islice(upcoming, 1))  # what comes before it, such as opening a file, is nobody's delay
        start = looked = clock.now_ns()
        for due_ns, frame in chain(first, upcoming):
            deadline = start + int(due_ns / speed) if speed else clock.now_ns()
            while (left := deadline - clock.now_ns()) > 0:
                clock.sleep(min(left, look_ns) / 1e9)
                looked = _look(look, clock, looked, look_ns)
            send(frame)
            lateness.add(clock.now_ns() - deadline)
            looked = _look(look, clock, looked, look_ns)
    except KeyboardInterrupt:
        stop = SendStop(StopReason.INTERRUPTED)
    except BusStopped as error:
        stop = error.stop
    return Played(lateness.frames, (clock.now_ns() - start) / 1e9, lateness, stop, speed)


def _look(look: Callable[[], None], clock: Clock, looked: int, look_ns: int) -> int:
    now = clock.now_ns()
    if now - looked < look_ns:
        return looked
    look()
    return now
