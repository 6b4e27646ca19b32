"""Clocks of two loggers, from what both saw."""

from __future__ import annotations

import random
from collections.abc import Callable

import pytest

from netcheck.capture import REMOTE, Capture
from netcheck.network import clock_offset
from tests.captures import Frame, hand_made

Stamp = Callable[[int], int]


def traffic(seed: int, count: int = 400) -> list[Frame]:
    """A message that is never twice the same, and one that changes between two payloads."""
    rng = random.Random(seed)
    frames = [Frame(0x120, rng.randbytes(8), time_ns=i * 10_000_000) for i in range(count)]
    return frames + [Frame(0x200, bytes([i % 2]), time_ns=i * 20_000_000 + 1) for i in range(count // 2)]


def stamped(frames: list[Frame], by: Stamp) -> list[Capture]:
    """The frames with other stamps, in their order of time, as two chunks."""
    rows = [frame._replace(time_ns=by(frame.time_ns or 0)) for frame in frames]
    rows.sort(key=lambda frame: frame.time_ns or 0)
    return [hand_made(part) for part in (rows[: len(rows) // 2], rows[len(rows) // 2 :])]


@pytest.mark.parametrize("offset_s", [-3600.0, -0.25, 0.0, 12.345])
def test_the_offset_of_two_loggers_is_found(offset_s: float) -> None:
    frames = traffic(1)
    first = stamped(frames[:300], lambda t: t)
    second = stamped(frames[100:400], lambda t: t + round(offset_s * 1e9) + t % 3_000_000)
    found = clock_offset(first, second)
    assert found is not None
    assert found.seconds == pytest.approx(offset_s, abs=0.004)
    assert found.moments == 199  # the first frame is no change


def test_captures_of_different_times_have_none() -> None:
    assert clock_offset(stamped(traffic(1), lambda t: t), stamped(traffic(2), lambda t: t)) is None


def test_too_little_that_both_saw_is_none() -> None:
    frames = traffic(1)
    assert clock_offset(stamped(frames[:100], lambda t: t), stamped(frames[80:200], lambda t: t)) is None
    assert clock_offset(stamped(frames[:100], lambda t: t), stamped(frames[79:200], lambda t: t)) is not None


def test_moments_that_disagree_are_none() -> None:
    frames = traffic(1)
    rng = random.Random(3)
    jumps = {frame.time_ns: rng.randrange(10**11) for frame in frames}
    assert clock_offset(stamped(frames, lambda t: t), stamped(frames, lambda t: t + jumps[t])) is None


def test_remote_frames_are_nobodys() -> None:
    frames = [frame._replace(flags=REMOTE) for frame in traffic(1)]
    assert clock_offset(stamped(frames, lambda t: t), stamped(frames, lambda t: t + 10**9)) is None
