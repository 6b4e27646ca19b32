"""How long each message may have to wait for the wire, at worst.

R. I. Davis, A. Burns, R. J. Bril and J. J. Lukkien, "Controller Area Network (CAN) schedulability analysis:
refuted, revisited and revised", Real-Time Systems 35 (2007) 239–272, doi 10.1007/s11241-007-9012-7.

Fixed priorities, no frame interrupts another, no errors on the wire, every module sends its most urgent
message first. A message can wait for one less urgent frame that has just begun, and for every more urgent
one. The first instance after that is not always the one that waits longest: all instances of the busy
period are looked at. (The analysis of 1994 looked at the first alone, and accepts sets that miss.)

Times are whole numbers: nanoseconds times the bit rates, so that nothing is rounded on the way.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from netcheck.network._traffic import FrameId
from netcheck.records import dataclass

MOST_LOAD: Final = 0.999  # of the wire's time; above, busy periods are too long to be followed to their end
_SECOND: Final = 1_000_000_000
_Wire = tuple[int, int]  # period and time of a message in the units of the analysis


@dataclass(frozen=True)
class Timed:
    """A message as its timing is analysed.

    period_ns:   shortest time from one instance to the next
    bits:        most bits that a frame of it takes at the nominal bit rate
    fast_bits:   and at the data bit rate of CAN FD
    deadline_ns: longest time from being ready to having been sent; None: no deadline, it only takes room
    """

    frame_id: FrameId
    period_ns: int
    bits: int
    fast_bits: int = 0
    deadline_ns: int | None = None


@dataclass(frozen=True)
class Response:
    """What the analysis gives for a message.

    worst_s:   longest time in seconds from being ready to having been sent; None: no bound can be given
    instances: how many instances of the message the longest busy period has; 0 without a bound
    """

    message: Timed
    worst_s: float | None
    instances: int
    meets: bool  # the deadline, shown; true where there is none


def urgency(frame_id: FrameId) -> tuple[int, int, int]:
    """Order of arbitration: the smaller wins. Of equal first eleven bits, the shorter id wins."""
    if frame_id.is_extended:
        return frame_id.can_id >> 18, 1, frame_id.can_id & 0x3FFFF
    return frame_id.can_id, 0, 0


def response_times(
    messages: Sequence[Timed], bitrate: int, fd_bitrate: int | None = None
) -> tuple[Response, ...]:
    """Worst-case response times on a network, most urgent message first.

    bitrate, fd_bitrate: bit/s; a data phase without a bit rate of its own runs at the nominal one.
    """
    ordered = sorted(messages, key=lambda message: urgency(message.frame_id))
    fast = fd_bitrate or bitrate
    scale = bitrate * fast  # units a nanosecond
    wire = [
        (message.period_ns * scale, _SECOND * (message.bits * fast + message.fast_bits * bitrate))
        for message in ordered
    ]
    return tuple(
        _response(message, wire, number, scale, _SECOND * fast) for number, message in enumerate(ordered)
    )


def _response(message: Timed, wire: Sequence[_Wire], number: int, scale: int, bit: int) -> Response:
    """bit: one nominal bit in units; scale: units a nanosecond."""
    (own_period, own_time), urgent = wire[number], wire[:number]
    blocking = max((time for _, time in wire[number + 1 :]), default=0)
    instances = _instances(blocking, wire[: number + 1])
    if instances is None:
        return Response(message, None, 0, meets=message.deadline_ns is None)
    worst, wait = 0, blocking
    for instance in range(instances):
        # An instance waits no shorter than the one before it and its frame: a start that saves steps.
        wait = _settled(wait, blocking + instance * own_time, urgent, bit)
        worst = max(worst, wait - instance * own_period + own_time)
        wait += own_time
    meets = message.deadline_ns is None or worst <= message.deadline_ns * scale
    return Response(message, worst / scale / _SECOND, instances, meets)


def _settled(start: int, base: int, urgent: Sequence[_Wire], bit: int) -> int:
    """The wait that is ``base`` and all urgent frames ready one bit after it; it is not below ``start``."""
    wait = start
    while True:
        longer = base + sum([-(-(wait + bit) // period) * time for period, time in urgent])
        if longer <= wait:
            return wait
        wait = longer


def _instances(blocking: int, several: Sequence[_Wire]) -> int | None:
    """Instances of the last message in its longest busy period; None where that may have no end."""
    if sum([time / period for period, time in several]) > MOST_LOAD:
        return None
    own_period, busy = several[-1]
    while True:
        longer = blocking + sum([-(-busy // period) * time for period, time in several])
        if longer == busy:
            return -(-busy // own_period)
        busy = longer
