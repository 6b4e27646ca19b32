"""Is there room on a network for what the items send: bits on the wire in the busiest second."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

from tests.acceptance.oracle._frames import SECOND, Tap, is_of
from tests.acceptance.oracle._identity import Networks
from tests.acceptance.small_jobs import Frame, Job, Msg, Part, Supply
from tests.naive import naive_classic_wire, naive_fd_wire

IsGone = Callable[[str, Msg], bool]


def is_overloaded(job: Job, networks: Networks, part: Part, is_gone: IsGone) -> bool:
    """Whether a network that the part sends on goes over 80 % of its bit rate with the job's messages."""
    if not any(supply.roles or supply.number is not None for supply in part.supplies):
        return False
    supplied = sum(
        bits_a_second(supply)
        for other in job.parts
        if other.network == part.network
        for supply in other.supplies
    )
    gone = [msg for msg in job.networks[part.network] if is_gone(part.network, msg)]
    return any(
        5 * (busiest_second(tap, gone) + supplied) > 4 * job.bitrate
        for tap in networks.taps(part.network)
        if tap.is_timed
    )


def bits_a_second(supply: Supply) -> Fraction:
    """A classic frame at its longest: a stuff bit after each four of those that may be stuffed."""
    if supply.number is None or supply.period_ms is None or supply.length is None:
        return Fraction(0)
    bits = (80 if supply.extended else 55) + 10 * supply.length
    return Fraction(bits * 1000, supply.period_ms)


def busiest_second(tap: Tap, gone: list[Msg]) -> int:
    frames = [(f.time, bits_of(f)) for f in tap.frames if not any(is_of(f, msg) for msg in gone)]
    return max(
        (sum(bits for time, bits in frames if first <= time < first + SECOND) for first, _ in frames),
        default=0,
    )


def bits_of(frame: Frame) -> int:
    if len(frame.data) > 8:
        return sum(naive_fd_wire(frame.number, frame.extended, False, False, frame.data))
    return len(naive_classic_wire(frame.number, frame.extended, False, len(frame.data), frame.data))
