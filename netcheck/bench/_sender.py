"""One message's frames in the order in which its control unit wants to send them, faults and all."""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import Final

from netcheck.bench._frame import Frame
from netcheck.bench._payloads import MessagePayloads, counter_size
from netcheck.bench._scenario import Cycle, InjectedFault, Scenario, Span
from netcheck.database import Message
from netcheck.records import dataclass

NULL_ADDRESS: Final = 0xFE  # J1939-81; DBC files write it for "any source address"


@dataclass(frozen=True)
class _Unit:
    """A control unit that sends one message."""

    message: Message
    scenario: Scenario
    cycle: Cycle
    seconds: float
    seed: str

    def frame(self, time: float, data: bytes) -> Frame:
        message = self.message
        can_id = wire_id(message, self.scenario.addresses.get(message.name, message.source_address))
        return Frame(round(time * 1e6), "", can_id, message.is_extended, data, message.is_fd)


def senders(
    message: Message, scenario: Scenario, seconds: float, seed: int | str
) -> Iterator[Iterator[Frame]]:
    """The frames of a message, and those of whoever else sends it; () if it has no cycle."""
    cycle = scenario.cycles.get(message.name)
    if cycle is None and message.cycle_time_ms:
        cycle = Cycle(message.cycle_time_ms)
    if cycle is None:
        return
    unit = _Unit(message, scenario, cycle, seconds, f"{seed} {message.name}")
    yield _first_sender(unit)
    for fault in scenario.faults.get(message.name, ()):
        if fault.kind == "second-sender":
            yield _second_sender(unit, fault)


def wire_id(message: Message, address: int | None) -> int:
    """The DBC's identifier; a parameter group without source address gets that of its sender, if known."""
    if message.is_j1939 and message.can_id & 0xFF == NULL_ADDRESS and address is not None:
        return message.can_id & ~0xFF | address
    return message.can_id


def in_order(frames: Iterable[Frame]) -> list[Frame]:
    """Frames by time, those of the same time in the order given."""
    return sorted(frames, key=lambda frame: frame.time_us)


def _first_sender(unit: _Unit) -> Iterator[Frame]:
    rng, luck = random.Random(unit.seed), random.Random(f"{unit.seed} faults")
    payloads = MessagePayloads(unit.message, unit.scenario, rng)
    faults = unit.scenario.faults.get(unit.message.name, ())
    for begin, end in _awake(unit.scenario.asleep, unit.seconds):
        payloads.wake()
        released = begin
        for time in _send_times(unit.cycle, begin, end, rng):
            # A number is drawn for every fault at every frame, so that its times do not change the others.
            now = {t.kind: t for t in faults if luck.random() < t.share and t.holds_at(time)}
            if "message-missing" in now:
                continue
            stuck = now["stuck-signal"].signals if "stuck-signal" in now else frozenset[str]()
            data = payloads.at(time, stuck, counts="frozen-counter" not in now)
            delay = now["late-frames"].delay_ms / 1000 if "late-frames" in now else 0.0
            released = max(released, time + delay)
            if "lost-frames" in now or released >= end:
                continue
            yield unit.frame(released, data[: now["wrong-length"].length] if "wrong-length" in now else data)


def _second_sender(unit: _Unit, fault: InjectedFault) -> Iterator[Frame]:
    """Another control unit with the same identifier: its own clock, its own counter, values that stand."""
    message, scenario = unit.message, unit.scenario
    rng = random.Random(f"{unit.seed} second")
    starts = scenario.starts | {(message.name, name): raw for name, raw in fault.instead.items()}
    counters = [signal for signal in message.signals if (message.name, signal.name) in scenario.counters]
    ahead = max(map(counter_size, counters), default=0) // 2
    payloads = MessagePayloads(message, replace(scenario, starts=starts, values={}, noise={}), rng, ahead)
    for begin, end in _awake(scenario.asleep, unit.seconds):
        first, last = max(begin, fault.span[0]), min(end, fault.span[1])
        if first < last:
            payloads.wake()
            for time in _send_times(unit.cycle, first, last, rng):
                data = payloads.at(time)
                if rng.random() < fault.share:
                    yield unit.frame(time, data)


def _awake(asleep: Iterable[Span], seconds: float) -> Iterator[Span]:
    begin = 0.0
    for first, last in sorted(asleep):
        if begin < min(first, seconds):
            yield begin, min(first, seconds)
        begin = max(begin, last)
    if begin < seconds:
        yield begin, seconds


def _send_times(cycle: Cycle, begin: float, end: float, rng: random.Random) -> Iterator[float]:
    """A sender's clock is up to 200 ppm off; a frame comes a little early or late, never before the last."""
    period = cycle.period_ms / 1000 * (1 + rng.uniform(-2e-4, 2e-4))
    late = min(0.02 * period, 0.0015) if cycle.jitter_ms is None else cycle.jitter_ms / 1000
    due, sent = begin + rng.uniform(0.02, 0.9) * period, begin
    while due < end - late:
        sent = max(sent, due + rng.uniform(-late, late))
        yield sent
        due += period
