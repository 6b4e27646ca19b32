"""Frames on their way to a bus or a log: when each has the wire, and how a log line looks."""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from typing import Final, NamedTuple

from netcheck.records import dataclass
from netcheck.words import clean

START_US: Final = 1_615_275_720_000_000  # 2021-03-09 07:42:00 UTC, where nobody says otherwise
FD_LENGTHS: Final = (*range(9), 12, 16, 20, 24, 32, 48, 64)  # ISO 11898-1: payloads that CAN FD has


@dataclass(frozen=True)
class Frame:
    """A frame on the wire; ``time_us`` counts from the start of the simulation.

    has_fast_data: CAN FD, with the higher bit rate in the data phase
    """

    time_us: int
    channel: str
    can_id: int
    is_extended: bool
    data: bytes
    is_fd: bool = False
    has_fast_data: bool = False


class Due(NamedTuple):
    """A frame that wants the wire. order: the lower goes first; wire_us: how long it takes."""

    time_us: int
    order: int
    wire_us: int
    frame: Frame


class BitRates(NamedTuple):
    """Bit rates of a network in bit/s; the second of the CAN FD data phase, None where there is none."""

    bitrate: int = 500_000
    fd_bitrate: int | None = None


USUAL_RATES: Final = BitRates()


def due(frame: Frame, rates: BitRates) -> Due:
    """The frame with its order of arbitration and its time on the wire."""
    order = frame.can_id if frame.is_extended else frame.can_id << 18
    return Due(frame.time_us, order, _wire_us(frame, rates), frame)


def arbitrate(frames: Iterable[Due]) -> Iterator[Frame]:
    """Frames in the order of the bus, stamped with the end of their time on the wire.

    frames: in the order of ``time_us``. Those that are due while another has the wire wait for it; the lowest
    identifier goes next.
    """
    upcoming = iter(frames)
    following = next(upcoming, None)
    waiting: list[tuple[int, int, int, Due]] = []  # order, time, number, what
    free = number = 0
    while following is not None or waiting:
        if not waiting and following is not None:
            free = max(free, following.time_us)
        while following is not None and following.time_us <= free:
            heapq.heappush(waiting, (following.order, following.time_us, number, following))
            number += 1
            following = next(upcoming, None)
        sent = heapq.heappop(waiting)[3]
        free += sent.wire_us
        yield replace(sent.frame, time_us=free)


def merge(*channels: Iterable[Frame]) -> Iterator[Frame]:
    """Frames of several channels in order of time."""
    return heapq.merge(*channels, key=lambda frame: frame.time_us)


def candump_lines(
    frames: Iterable[Frame], comments: Sequence[str] = (), start_us: int = START_US
) -> Iterator[str]:
    """Frames as lines of a candump log, after the comments. start_us: microseconds since the epoch."""
    for comment in comments:
        yield f"# {clean(comment)}\n"
    for frame in frames:
        whole, part = divmod(start_us + frame.time_us, 1_000_000)
        name = f"{frame.can_id:08X}" if frame.is_extended else f"{frame.can_id:03X}"
        mark = f"##{int(frame.has_fast_data)}" if frame.is_fd else "#"
        yield f"({whole}.{part:06d}) {frame.channel} {name}{mark}{frame.data.hex().upper()}\n"


def _wire_us(frame: Frame, rates: BitRates) -> int:
    """Time on the wire with about one stuff bit a byte.

    Classic frames are 47 bits beside the data, 67 with a 29-bit id (Linux, can/length.h, without stuffing).
    Of a CAN FD frame about 29 of the 67 bits beside the data, 48 of 86, keep the lower rate.
    """
    if not frame.is_fd:
        return ((67 if frame.is_extended else 47) + 9 * len(frame.data)) * 1_000_000 // rates.bitrate
    slow, fast = 48 if frame.is_extended else 29, 38 + 9 * len(frame.data)
    rate = rates.fd_bitrate if frame.has_fast_data and rates.fd_bitrate else rates.bitrate
    return slow * 1_000_000 // rates.bitrate + fast * 1_000_000 // rate
