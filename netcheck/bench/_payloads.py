"""One message's payloads: values, pages in turn, counters, checksums."""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping
from typing import Final

from netcheck.bench._checksum import Checksum
from netcheck.bench._encode import encode
from netcheck.bench._scenario import Scenario
from netcheck.bench._trajectory import Trajectory
from netcheck.bits import span
from netcheck.database import Message, Signal

_MOST_PAGES: Final = 256  # of one multiplexer; beyond, one page of each set of signals


class MessagePayloads:
    """The payloads of one sender of a message, in the order in which they are sent."""

    def __init__(
        self, message: Message, scenario: Scenario, rng: random.Random, first_count: int = 0
    ) -> None:
        self._message = message
        self._rng = rng
        self._trajectories = {
            signal.name: _trajectory(message.name, signal, scenario)
            for signal in sorted(message.signals, key=_on_the_wire)
        }
        self._counters = {
            signal.name: counter_size(signal)
            for signal in message.signals
            if (message.name, signal.name) in scenario.counters
        }
        self._checksums: dict[tuple[int, int, bool], Checksum] = {}
        for signal in message.signals:
            checksum = scenario.checksums.get((message.name, signal.name))
            if checksum is not None:
                place = span(signal.start, signal.width, signal.is_big_endian)
                self._checksums[place.first, place.last + 1, signal.is_big_endian] = checksum
        self._pages = page_turns(message)
        self._first_count = first_count
        self._last: dict[str, float] = {}
        self._sent = self._count = 0

    def wake(self) -> None:
        """A control unit that wakes starts its counters and pages from the first."""
        self._sent = self._count = 0

    def at(self, time: float, stuck: frozenset[str] = frozenset(), *, counts: bool = True) -> bytes:
        """The next payload, due at ``time`` in seconds.

        stuck:  signals that keep their last value
        counts: whether the counters go on
        """
        raw = {name: trajectory.raw(time, self._rng) for name, trajectory in self._trajectories.items()}
        for name in stuck & self._last.keys():
            raw[name] = self._last[name]
        self._last = raw
        count = self._first_count + (self._count if counts else max(self._count - 1, 0))
        self._count += counts
        page = self._pages[self._sent % len(self._pages)]
        self._sent += 1
        counters = {name: count % size for name, size in self._counters.items()}
        raw = {**raw, **counters, **page}
        off = [signal.name for signal in self._message.signals if not _is_on(signal, page)]
        data = encode(self._message, {name: value for name, value in raw.items() if name not in off})
        for (first, end, is_big_endian), checksum in self._checksums.items():
            found = checksum.of(data[:first] + data[end:])
            data = (
                data[:first] + found.to_bytes(end - first, "big" if is_big_endian else "little") + data[end:]
            )
        return data


def counter_size(signal: Signal) -> int:
    """How many values a counter has: 2 to its width, or the DBC's maximum + 1 where that is smaller."""
    return min(int(signal.maximum) + 1 if signal.maximum else 1 << signal.width, 1 << signal.width)


def page_turns(message: Message) -> tuple[Mapping[str, int], ...]:
    """What the multiplexers of a message are set to, frame by frame; one empty turn where it has none."""
    names = {page.multiplexer for signal in message.signals for page in signal.pages}
    multiplexers = [signal for signal in message.signals if signal.name in names]
    turns: list[dict[str, int]] = [{}]
    for multiplexer in sorted(multiplexers, key=lambda signal: len(signal.pages)):
        values = _page_values(message, multiplexer.name)
        turns = list(_spread(turns, multiplexer, values))
    return tuple(turns)


def _spread(turns: list[dict[str, int]], multiplexer: Signal, values: list[int]) -> Iterator[dict[str, int]]:
    for turn in turns:
        if _is_on(multiplexer, turn):
            yield from ({**turn, multiplexer.name: value} for value in values)
        else:
            yield turn


def _page_values(message: Message, multiplexer: str) -> list[int]:
    carried: dict[int, tuple[str, ...]] = {}
    for signal in message.signals:
        for page in signal.pages:
            if page.multiplexer == multiplexer:
                for value in page.values:
                    carried[value] = (*carried.get(value, ()), signal.name)
    if len(carried) <= _MOST_PAGES:
        return sorted(carried)
    first_of = {names: value for value, names in sorted(carried.items(), reverse=True)}
    return sorted(first_of.values())


def _is_on(signal: Signal, turn: Mapping[str, int]) -> bool:
    return all(turn.get(page.multiplexer) in page.values for page in signal.pages)


def _on_the_wire(signal: Signal) -> int:
    """The place of a signal's first bit on the wire."""
    return 8 * (signal.start // 8) + 7 - signal.start % 8 if signal.is_big_endian else signal.start


def _trajectory(message: str, signal: Signal, scenario: Scenario) -> Trajectory:
    key = message, signal.name
    start = scenario.starts.get(key, signal.start_raw or 0)
    return Trajectory(signal, scenario.values.get(key, ()), start, scenario.noise.get(key, 0.0))
