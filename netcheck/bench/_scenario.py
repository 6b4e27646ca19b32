"""What happens on one network, signal by signal."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from typing import Final

from netcheck.bench._checksum import Checksum
from netcheck.bench._frame import Frame
from netcheck.files import FaultKind
from netcheck.records import dataclass

Span = tuple[float, float]
Key = tuple[str, str]  # message name, signal name
ALWAYS: Final[Span] = (float("-inf"), float("inf"))


@dataclass(frozen=True)
class Point:
    """From ``at`` seconds on a signal goes to ``value`` (label or physical), within ``ramp`` seconds."""

    at: float
    value: float | str
    ramp: float = 0.0


@dataclass(frozen=True)
class Cycle:
    """How often a message is sent. jitter_ms: how far a frame may be off; None: 2 %, at most 1.5 ms."""

    period_ms: float
    jitter_ms: float | None = None


@dataclass(frozen=True)
class InjectedFault:
    """A fault of one message from one time to another, both in seconds.

    share:    of the frames that it happens to
    signals:  of a stuck-signal, which
    length:   of a wrong-length, payload bytes that are left
    delay_ms: of late-frames, how late
    instead:  of a second-sender, the raw values it sends where they are not the start values
    """

    kind: FaultKind
    span: Span
    share: float = 1.0
    signals: frozenset[str] = frozenset()
    length: int = 0
    delay_ms: float = 0.0
    instead: Mapping[str, float] = field(default_factory=dict)

    def holds_at(self, time: float) -> bool:
        """Whether it is going on at that time."""
        return self.span[0] <= time < self.span[1]


@dataclass
class Scenario:
    """What happens on a network; put together step by step, then only read.

    values:    points of a signal in order of time; before the first it has its start value
    starts:    raw start values; where none is given, that of the DBC, or 0
    noise:     physical units that a signal wanders to either side
    counters:  signals that go up by one a frame
    checksums: whole-byte signals that are worked out over the other bytes
    cycles:    of messages that are not sent as the DBC says; a message without any cycle is not sent
    addresses: source addresses of J1939 messages whose DBC leaves them open (0xFE)
    asleep:    spans in seconds without any frame
    faults:    by message
    extra:     frames the DBC knows nothing of, such as a tester's; sent when due, asleep or not
    """

    values: dict[Key, list[Point]] = field(default_factory=dict)
    starts: dict[Key, float] = field(default_factory=dict)
    noise: dict[Key, float] = field(default_factory=dict)
    counters: set[Key] = field(default_factory=set)
    checksums: dict[Key, Checksum] = field(default_factory=dict)
    cycles: dict[str, Cycle] = field(default_factory=dict)
    addresses: dict[str, int] = field(default_factory=dict)
    asleep: list[Span] = field(default_factory=list)
    faults: dict[str, list[InjectedFault]] = field(default_factory=dict)
    extra: list[Frame] = field(default_factory=list)

    def put(self, key: Key, at: float, value: float | str, ramp: float = 0.0) -> None:
        """Add a point, keeping the order of time; of two at the same time the later added wins."""
        points = self.values.setdefault(key, [])
        points.append(Point(at, value, ramp))
        points.sort(key=lambda point: point.at)

    def never(self, *messages: str) -> None:
        """These messages are never sent."""
        for message in messages:
            self.faults.setdefault(message, []).append(InjectedFault("message-missing", ALWAYS))
