"""Long candump logs, written fast: the messages of a DBC in their cycle times, the same bytes for a seed."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, NamedTuple

import cantools
import numpy as np
from cantools.database.can import Message, Signal
from numpy.typing import NDArray

BLOCK = 200_000  # frames made at once
POOL = 64  # payloads of a message, sent in turn; a whole number of rounds of any rolling counter
START_S = 1_615_275_720  # 2021-03-09 07:42:00 UTC
CYCLES_MS = (10, 20, 50, 100, 200, 500, 1000)  # for messages whose DBC states none

Bytes = NDArray[np.uint8]


class Sender(NamedTuple):
    """A message on the wire. payloads: uint8[POOL, 8], of which ``length`` bytes are sent."""

    channel: int
    can_id: int
    is_extended: bool
    cycle_us: int
    length: int
    payloads: Bytes


def senders(dbc: Path, channel: int, seed: int) -> list[Sender]:
    """The classic messages of a DBC with payloads drawn inside their signals' limits."""
    rng = random.Random(seed)
    loaded: Any = cantools.database.load_file(dbc, strict=False)
    found = {}
    for message in loaded.messages:
        if message.length <= 8 and not message.is_container and not message.is_fd:
            cycle = message.cycle_time or rng.choice(CYCLES_MS)
            key = message.frame_id, message.is_extended_frame
            found[key] = Sender(channel, *key, cycle * 1000, message.length, _payloads(message, rng))
    return list(found.values())


def _payloads(message: Message, rng: random.Random) -> Bytes:
    """Each signal changes now and then; counters count."""
    pool = np.zeros((POOL, 8), np.uint8)
    values = {signal.name: _raw(signal, rng) for signal in message.signals}
    for row in range(POOL):
        for signal in message.signals:
            if signal.name.endswith("Counter"):
                values[signal.name] = row % (1 << signal.length)
            elif rng.random() < 0.2:
                values[signal.name] = _raw(signal, rng)
        data = 0
        for signal in message.signals:
            data |= _placed(signal, values[signal.name], message.length)
        pool[row, : message.length] = np.frombuffer(data.to_bytes(message.length, "little"), np.uint8)
    return pool


def _raw(signal: Signal, rng: random.Random) -> int:
    """A raw value inside the limits; a multiplexer takes one of its pages."""
    if signal.is_float or signal.minimum is None or signal.maximum is None:
        return rng.randrange(1 << signal.length)
    ends = [round((limit - signal.offset) / signal.scale) for limit in (signal.minimum, signal.maximum)]
    signed = 1 << signal.length - 1 if signal.is_signed else 0
    low, high = max(min(ends), -signed), min(max(ends), (1 << signal.length) - 1 - signed)
    return rng.randint(low, high) if low < high else rng.randrange(1 << signal.length)


def _placed(signal: Signal, raw: int, length: int) -> int:
    """The raw value in its bits of the little-endian number that the payload is."""
    raw &= (1 << signal.length) - 1
    if signal.byte_order == "little_endian":
        return raw << signal.start & (1 << 8 * length) - 1
    first = 8 * (signal.start // 8) + 7 - signal.start % 8  # bits from the payload's start
    big = raw << max(8 * length - first - signal.length, 0)
    return int.from_bytes((big & (1 << 8 * length) - 1).to_bytes(length, "big"), "little")


def write_log(path: Path, frames: int, seed: int, sent: Sequence[Sender], names: Sequence[str]) -> int:
    """A log as ``candump -l`` writes it, of exactly that many frames; gives its bytes.

    names: of the channels
    """
    lines = _Lines(sent, names)
    left, size = frames, 0
    with path.open("wb") as file:
        for time_us, who, turn in _blocks(np.random.default_rng(seed), sent):
            text = lines.text(time_us[:left], who[:left], turn[:left])
            file.write(text)
            left, size = left - min(left, len(time_us)), size + len(text)
            if not left:
                return size
    return size


def write_random(path: Path, frames: int, seed: int, ids: int = 60) -> None:
    """A log of that many frames, 0.5 ms apart, of so many ids on two channels: the payloads never repeat."""
    rng = np.random.default_rng(seed)
    heads = [b" can%d %03X#" % (number % 2, 0x80 + 7 * number) for number in range(ids)]
    head = np.frombuffer(b"".join(heads), np.uint8).reshape(ids, -1)
    digits = np.frombuffer(b"0123456789ABCDEF", np.uint8)
    with path.open("wb") as file:
        for begin in range(0, frames, BLOCK):
            count = min(BLOCK, frames - begin)
            stamps = 500 * np.arange(begin, begin + count)
            lines = np.empty((count, 19 + head.shape[1] + 17), np.uint8)
            for place in range(10):
                lines[:, 1 + place] = 48 + (START_S + stamps // 1_000_000) // 10 ** (9 - place) % 10
            for place in range(6):
                lines[:, 12 + place] = 48 + stamps // 10 ** (5 - place) % 10
            lines[:, 0], lines[:, 11], lines[:, 18], lines[:, -1] = b"(.)\n"
            lines[:, 19:-17] = head[rng.integers(0, ids, count)]
            lines[:, -17:-1] = digits[rng.integers(0, 16, (count, 16))]
            file.write(lines.tobytes())


def _blocks(rng: np.random.Generator, sent: Sequence[Sender]) -> Iterator[tuple[Any, Any, Any]]:
    """Times in microseconds since the start, senders and their turns, in order of time, without end.

    Each sender keeps its cycle within a fiftieth of it.
    """
    cycle = np.array([sender.cycle_us for sender in sent], np.float64)
    phase = rng.random(len(sent)) * cycle
    span = int(BLOCK / (1 / cycle).sum())  # microseconds of a block
    begin = 0
    while True:
        first = np.ceil((begin - phase) / cycle).astype(np.int64)
        count = np.ceil((begin + span - phase) / cycle).astype(np.int64) - first
        who = np.repeat(np.arange(len(sent)), count)
        turn = np.arange(len(who)) + np.repeat(first - (np.cumsum(count) - count), count)
        due = phase[who] + turn * cycle[who] + rng.uniform(-0.02, 0.02, len(who)) * cycle[who]
        time_us = np.clip(due.astype(np.int64), begin, begin + span - 1)
        order = np.argsort(time_us, kind="stable")
        yield time_us[order], who[order], turn[order]
        begin += span


class _Lines:
    """Frames to lines: fixed columns, of which each line keeps those it has."""

    def __init__(self, sent: Sequence[Sender], names: Sequence[str]) -> None:
        pairs = np.array([list(f"{byte:02X}".encode()) for byte in range(256)], np.uint8)
        self._thousand = np.array([list(f"{number:03d}".encode()) for number in range(1000)], np.uint8)
        heads = [_head(names[sender.channel], sender) for sender in sent]
        wide = max(map(len, heads))
        head = np.zeros((len(sent), wide), np.uint8)
        for row, text in zip(head, heads, strict=True):
            row[wide - len(text) :] = list(text)
        self._head = head
        payloads = np.stack([sender.payloads for sender in sent])
        self._data = pairs[payloads].reshape(len(sent), POOL, 16)
        digits = 2 * np.array([sender.length for sender in sent])
        self._data[np.arange(16) >= digits[:, None, None].repeat(POOL, axis=1)] = 0

    def text(self, time_us: NDArray[np.int64], who: NDArray[np.int64], turn: NDArray[np.int64]) -> bytes:
        wide = self._head.shape[1]
        cells = np.empty((len(who), 19 + wide + 17), np.uint8)
        seconds, micros = np.divmod(time_us, 1_000_000)
        cells[:, :12] = np.frombuffer(b"(0000000000.", np.uint8)
        seconds = seconds + START_S
        for place, part in ((1, seconds // 1_000_000_000), (2, seconds // 1_000_000 % 1000)):
            cells[:, place : place + (1 if place == 1 else 3)] = (
                part[:, None] + 48 if place == 1 else self._thousand[part]
            )
        cells[:, 5:8] = self._thousand[seconds // 1000 % 1000]
        cells[:, 8:11] = self._thousand[seconds % 1000]
        cells[:, 12:15] = self._thousand[micros // 1000]
        cells[:, 15:18] = self._thousand[micros % 1000]
        cells[:, 18] = 41  # )
        cells[:, 19 : 19 + wide] = self._head[who]
        cells[:, 19 + wide : -1] = self._data[who, turn % POOL]
        cells[:, -1] = 10
        return cells[cells != 0].tobytes()


def _head(name: str, sender: Sender) -> bytes:
    """From the blank behind the time to the data."""
    return f" {name} {sender.can_id:0{8 if sender.is_extended else 3}X}#".encode()
