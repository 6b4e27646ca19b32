"""Seeded traffic: frames as the messages of a DBC would send them, the same bytes every time.

``simulate`` turns a cantools database and a ``Script`` into frames; ``candump`` writes them as log lines.
``python -m tests.simulated`` writes the captures in ``sample_logs/`` anew.

Signals start at the DBC's start value and follow the script. Their names say which are kept by themselves:
``…Counter`` goes up by one a frame; ``…Crc``, ``…Xor`` and ``…Sum`` are whole bytes worked out over the
others. Multiplexed messages (one level) send their pages in turn. Only uniform random numbers and plain
arithmetic are used, so that no machine's sine or logarithm changes a byte.
"""

from __future__ import annotations

import gzip
import heapq
import random
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import reduce
from operator import xor
from pathlib import Path

from cantools.database.can import Database, Message, Signal

Span = tuple[float, float]
Key = tuple[str, str]  # message name, signal name
START_US = 1_615_275_720_000_000  # 2021-03-09 07:42:00 UTC


@dataclass(frozen=True)
class Frame:
    """A frame on the wire; ``time_us`` counts from the start of the simulation."""

    time_us: int
    channel: str
    can_id: int
    is_extended: bool
    data: bytes


@dataclass(frozen=True)
class Point:
    """From ``at`` seconds on a signal goes to ``value`` (label or physical), within ``ramp`` seconds."""

    at: float
    value: float | str
    ramp: float = 0.0


@dataclass
class Script:
    """What happens in a simulation.

    values: points of a signal in order of time; before the first it has the DBC's start value
    noise:  physical units that a signal wanders to either side
    asleep: spans in seconds without any frame
    silent: spans in which a message is not sent
    extra:  frames the DBC knows nothing of, such as a tester's; sent when due, asleep or not
    """

    values: dict[Key, list[Point]] = field(default_factory=dict)
    noise: dict[Key, float] = field(default_factory=dict)
    asleep: list[Span] = field(default_factory=list)
    silent: dict[str, list[Span]] = field(default_factory=dict)
    extra: list[Frame] = field(default_factory=list)

    def put(self, key: Key, at: float, value: float | str, ramp: float = 0.0) -> None:
        """Add a point, keeping the order of time; of two at the same time the later added wins."""
        points = self.values.setdefault(key, [])
        points.append(Point(at, value, ramp))
        points.sort(key=lambda point: point.at)

    def never(self, *messages: str) -> None:
        """These messages are never sent."""
        for message in messages:
            self.silent[message] = [(float("-inf"), float("inf"))]


def crc8(data: bytes) -> int:
    """CRC-8, polynomial 0x1D, start and final xor 0xFF, not reflected."""
    crc = 0xFF
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = (crc << 1) ^ 0x1D if crc & 0x80 else crc << 1
            crc &= 0xFF
    return crc ^ 0xFF


CHECKSUMS: Mapping[str, Callable[[bytes], int]] = {
    "Crc": crc8,
    "Xor": lambda data: reduce(xor, data, 0),
    "Sum": lambda data: sum(data) & 0xFF,
}


def simulate(
    database: Database,
    script: Script,
    seconds: float,
    seed: int,
    channel: str = "can0",
    bitrate: int = 500_000,
) -> list[Frame]:
    """Frames of every cyclic message of ``database`` over ``seconds``, in the order of the bus.

    Frames that are due while another is on the wire wait for it; the lowest identifier goes next.
    """
    due: list[tuple[int, int, int, Frame]] = []
    for message in database.messages:
        if message.cycle_time:
            due += _sender(
                database, message, script, seconds, random.Random(f"{seed} {message.name}"), channel
            )
    due += [_due(replace(frame, channel=channel)) for frame in script.extra]
    return list(_arbitrate(due, bitrate))


def merge(*channels: Iterable[Frame]) -> list[Frame]:
    """Frames of several channels in order of time."""
    return list(heapq.merge(*channels, key=lambda frame: frame.time_us))


def candump(frames: Iterable[Frame], comments: Sequence[str] = (), start_us: int = START_US) -> str:
    """Frames as lines of a candump log, after the comments."""
    lines = [f"# {comment}\n" for comment in comments]
    for frame in frames:
        whole, part = divmod(start_us + frame.time_us, 1_000_000)
        name = f"{frame.can_id:08X}" if frame.is_extended else f"{frame.can_id:03X}"
        lines.append(f"({whole}.{part:06d}) {frame.channel} {name}#{frame.data.hex().upper()}\n")
    return "".join(lines)


def write(path: Path, text: str) -> None:
    """Write a log, compressed if its name ends in ``.gz``; no time stamp and no name go into the file."""
    data = text.encode("ascii")
    path.write_bytes(gzip.compress(data, 9, mtime=0) if path.suffix == ".gz" else data)


def _sender(
    database: Database, message: Message, script: Script, seconds: float, rng: random.Random, channel: str
) -> Iterator[tuple[int, int, int, Frame]]:
    """One message's frames as ``_due`` has them."""
    can_id = _wire_id(database, message)
    payloads = _Payloads(message, script, rng)
    for begin, end in _awake(script.asleep, seconds):
        payloads.wake()
        for time in _send_times((message.cycle_time or 0) / 1000, begin, end, rng):
            data = payloads.at(time)
            if any(first <= time < last for first, last in script.silent.get(message.name, ())):
                continue
            yield _due(Frame(round(time * 1e6), channel, can_id, message.is_extended_frame, data))


def _due(frame: Frame) -> tuple[int, int, int, Frame]:
    """With the order of arbitration, and bits on the wire with about one stuff bit a byte."""
    order = frame.can_id if frame.is_extended else frame.can_id << 18
    return frame.time_us, order, (67 if frame.is_extended else 47) + 9 * len(frame.data), frame


def _wire_id(database: Database, message: Message) -> int:
    """The DBC's identifier; a parameter group without source address gets that of its sender."""
    if message.protocol == "j1939" and message.frame_id & 0xFF == 0xFE and message.senders:
        attributes = database.get_node_by_name(message.senders[0]).dbc.attributes
        return message.frame_id & ~0xFF | int(attributes["NmStationAddress"].value)
    return message.frame_id


def _awake(asleep: Sequence[Span], seconds: float) -> Iterator[Span]:
    begin = 0.0
    for first, last in sorted(asleep):
        if first > begin:
            yield begin, first
        begin = last
    if begin < seconds:
        yield begin, seconds


def _send_times(period: float, begin: float, end: float, rng: random.Random) -> Iterator[float]:
    """A sender's clock is up to 200 ppm off; a frame comes up to 2 % of its period (1.5 ms at most) off."""
    period *= 1 + rng.uniform(-2e-4, 2e-4)
    late = min(0.02 * period, 0.0015)
    due = begin + rng.uniform(0.02, 0.9) * period
    while due < end - late:
        yield due + rng.uniform(-late, late)
        due += period


def _arbitrate(due: list[tuple[int, int, int, Frame]], bitrate: int) -> Iterator[Frame]:
    due.sort(key=lambda entry: entry[:2])
    waiting: list[tuple[int, int, int, Frame]] = []  # order, time, bits, frame
    free = position = 0
    while position < len(due) or waiting:
        if not waiting:
            free = max(free, due[position][0])
        while position < len(due) and due[position][0] <= free:
            time, order, bits, frame = due[position]
            heapq.heappush(waiting, (order, time, bits, frame))
            position += 1
        _, _, bits, frame = heapq.heappop(waiting)
        free += bits * 1_000_000 // bitrate
        yield replace(frame, time_us=free)


class _Payloads:
    """One message's payloads over time."""

    def __init__(self, message: Message, script: Script, rng: random.Random) -> None:
        self._message = message
        self._rng = rng
        self._courses = {s.name: _Course(s, script, message.name) for s in message.signals}
        self._counters = [s for s in message.signals if s.name.endswith("Counter")]
        self._checksums = {
            s.start // 8: CHECKSUMS[s.name[-3:]] for s in message.signals if s.name[-3:] in CHECKSUMS
        }
        self._page = next((s for s in message.signals if s.is_multiplexer), None)
        self._pages = sorted({page for s in message.signals for page in s.multiplexer_ids or ()})
        self._sent = 0

    def wake(self) -> None:
        """A control unit that wakes starts its counters and pages from the first."""
        self._sent = 0

    def at(self, time: float) -> bytes:
        """The next payload, due at ``time``."""
        raw = {name: course.raw(time, self._rng) for name, course in self._courses.items()}
        for signal in self._counters:
            raw[signal.name] = self._sent % (int(signal.maximum) + 1 if signal.maximum else 2**signal.length)
        if self._page is not None:
            page = self._pages[self._sent % len(self._pages)]
            raw[self._page.name] = page
            off = [
                s.name for s in self._message.signals if s.multiplexer_ids and page not in s.multiplexer_ids
            ]
            for name in off:
                del raw[name]
        self._sent += 1
        data = bytearray(self._message.encode(raw, scaling=False, strict=False, padding=False))
        for byte, checksum in self._checksums.items():
            data[byte] = checksum(bytes(data[:byte] + data[byte + 1 :]))
        return bytes(data)


class _Course:
    """One signal's raw value over time; asked with times that never go back."""

    def __init__(self, signal: Signal, script: Script, message: str) -> None:
        self._signal = signal
        self._points = [
            (p.at, self._physical(p.value), p.ramp) for p in script.values.get((message, signal.name), ())
        ]
        self._noise = script.noise.get((message, signal.name), 0.0)
        self._wander = 0.0
        self._value = self._from = self._scaled(signal.raw_initial or 0)
        self._begin, self._ramp = float("-inf"), 0.0
        self._next = 0

    def raw(self, time: float, rng: random.Random) -> int | float:
        """Raw value at ``time``, inside the signal's limits unless the script itself is outside."""
        while self._next < len(self._points) and self._points[self._next][0] <= time:
            at, value, ramp = self._points[self._next]
            self._from, self._value, self._begin, self._ramp = self._now(at), value, at, ramp
            self._next += 1
        value = self._now(time)
        if self._noise:
            self._wander = 0.85 * self._wander + 0.4 * rng.uniform(-self._noise, self._noise)
            low, high = self._signal.minimum, self._signal.maximum
            value += self._wander
            value = value if low is None else max(value, low)
            value = value if high is None else min(value, high)
        if self._signal.is_float:
            return value
        return round((value - float(self._signal.offset)) / float(self._signal.scale))

    def _now(self, time: float) -> float:
        if time >= self._begin + self._ramp:
            return self._value
        return self._from + (self._value - self._from) * (time - self._begin) / self._ramp

    def _physical(self, value: float | str) -> float:
        if isinstance(value, str):
            return self._scaled(self._signal.conversion.choice_to_number(value))
        return float(value)

    def _scaled(self, raw: float) -> float:
        return float(self._signal.offset) + float(self._signal.scale) * raw


if __name__ == "__main__":
    from tests.demo.captures import write_all

    write_all()
