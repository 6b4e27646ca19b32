"""The kernel against a plain walk over the frames."""

from __future__ import annotations

import numpy as np
import pytest

from netcheck.capture import ERROR, EXTENDED, REMOTE, Capture
from netcheck.find import Movements, MovementTally, movements_of
from tests.captures import Frame, hand_made


def frames(seed: int, count: int = 3000) -> list[Frame]:
    """Ids of several lengths; payloads that change in some bits seldom, in others always."""
    rng = np.random.default_rng(seed)
    found, now = [], 1_000_000_000
    words = dict.fromkeys(range(6), 0)
    for number in range(count):
        now += int(rng.integers(100_000, 30_000_000))
        which = int(rng.integers(6))
        if rng.random() < 0.2:
            words[which] ^= 1 << int(rng.integers(64))
        size = (8, 3, 8, 1, 64, 20)[which] if rng.random() < 0.9 else (8, 2, 8, 1, 64, 12)[which]
        data = (words[which] ^ (number & 0xFF if which == 2 else 0)).to_bytes(8, "little") * 8
        odd = rng.random()
        flags = EXTENDED if which == 3 else REMOTE if odd < 0.01 else ERROR if odd < 0.02 else 0
        channel = "can1" if which == 0 else "can0"
        found.append(Frame(0x100 + which, data[:size], flags, now, channel, length=size))
    return found


def walked(
    rows: list[Frame],
) -> dict[tuple[str, int, bool], tuple[int, list[int], list[list[float]], list[int], list[int]]]:
    """Of each channel, id and kind of length: frames, how often each bit changed, and when; then how often
    it changed together with the one below it, in either byte order.
    """
    found: dict[tuple[str, int, bool], tuple[int, list[int], list[list[float]], list[int], list[int]]] = {}
    held: dict[tuple[str, int, bool], bytearray] = {}
    origin = rows[0].time_ns or 0
    for row in rows:
        if row.flags & (ERROR | REMOTE):
            continue
        key = row.channel, row.can_id, len(row.data) > 8
        blank = (0, [0] * 512, [[] for _ in range(512)], [0] * 512, [0] * 512)
        count, flips, times, joint, crossing = found.get(key, blank)
        old = held.setdefault(key, bytearray())
        turned = {
            8 * byte + bit
            for byte, value in enumerate(row.data[: len(old)])
            for bit in range(8)
            if (old[byte] ^ value) >> bit & 1
        }
        for bit in turned:
            joint[bit] += bit % 64 > 0 and bit - 1 in turned
            crossing[bit] += bit % 8 == 0 and bit % 64 < 56 and bit + 15 in turned
        for byte, value in enumerate(row.data):
            if byte < len(old):
                for bit in range(8):
                    if (old[byte] ^ value) >> bit & 1:
                        flips[8 * byte + bit] += 1
                        times[8 * byte + bit].append(((row.time_ns or 0) - origin) / 1e9)
                old[byte] = value
            else:
                old.append(value)
        found[key] = count + 1, flips, times, joint, crossing
    return found


def chunked(capture: Capture, size: int) -> list[Capture]:
    """The same in pieces."""
    names = ("time_ns", "can_id", "flags", "channel", "length", "start")
    return [
        Capture(
            capture.file,
            capture.channels,
            *(getattr(capture, name)[begin : begin + size] for name in names),
            capture.data,
        )
        for begin in range(0, len(capture), size)
    ]


@pytest.mark.parametrize("size", [1, 700, 10_000])
@pytest.mark.parametrize("seed", range(3))
def test_each_change_is_noted(seed: int, size: int):
    rows = frames(seed)
    capture = hand_made(rows)
    seen: Movements = movements_of("x.log", capture.channels, chunked(capture, size))
    expected = walked(rows)
    assert len(seen.messages) == len(expected)
    for message in seen.messages:
        count, flips, times, joint, crossing = expected[
            message.channel, message.frame_id.can_id, message.length > 8
        ]
        assert message.count == count
        assert (
            np.concatenate([lane.joint for lane in message.lanes]).tolist()
            == joint[: 64 * len(message.lanes)]
        )
        assert (
            np.concatenate([lane.crossing for lane in message.lanes]).tolist()
            == crossing[: 64 * len(message.lanes)]
        )
        assert message.flips().tolist() == flips[: 8 * message.length]
        for number in range(8 * message.length):
            lane = message.lanes[number // 64]
            if not lane.live >> number % 64 & 1:
                assert flips[number] >= 256
                continue
            changes = lane.changes(number // 8, number % 8, 1)
            assert changes.times.tolist() == pytest.approx(times[number])


def test_a_bit_that_changes_too_often_is_only_counted():
    rows = [Frame(0x123, bytes([number & 1]), time_ns=number * 1_000_000) for number in range(1000)]
    (message,) = movements_of("x.log", ("can0",), [hand_made(rows)]).messages
    assert message.flips()[0] == 999
    assert not message.lanes[0].live & 1
    assert len(message.lanes[0].times) < 300


def test_samples_stay_bounded_and_even():
    counts = [number.to_bytes(2, "little") for number in range(50_000)]
    rows = [Frame(0x123, data, time_ns=number * 1_000_000) for number, data in enumerate(counts)]
    (message,) = movements_of("x.log", ("can0",), [hand_made(rows)]).messages
    sampled, words = message.sampled, message.lanes[0].samples
    assert 500 < len(sampled) <= 2048
    assert words.tolist() == [round(time * 1000) & 0xFFFF for time in sampled.tolist()]
    assert np.diff(sampled).max() < 0.2
    assert sampled[-1] > 49


def test_samples_of_all_messages_share_a_grid():
    rows = sorted(
        (
            Frame(number, bytes([number]), time_ns=round((0.3 * period + step * period) * 1e9))
            for number, period in ((1, 0.001), (2, 0.01), (3, 0.1))
            for step in range(round(40 / period))
        ),
        key=lambda row: row.time_ns or 0,
    )
    fast, middle, slow = movements_of("x.log", ("can0",), [hand_made(rows)]).messages
    assert len(fast.sampled) <= 2048
    for other, period in ((middle, 0.01), (slow, 0.1)):
        gap = np.abs(fast.sampled[:, None] - other.sampled[None, :])
        assert np.median(gap.min(axis=1 if len(fast.sampled) < len(other.sampled) else 0)) <= period


def test_samples_can_be_taken_of_a_part():
    rows = [Frame(0x1, bytes([step & 0xFF]), time_ns=step * 1_000_000) for step in range(60_000)]
    tally = MovementTally((20.0, 25.0))
    tally.add(hand_made(rows))
    (message,) = tally.result("x.log", ("can0",)).messages
    assert 20 <= message.sampled[0] < 20.01
    assert 24.9 < message.sampled[-1] <= 25
    assert message.count == 60_000


def test_a_clock_that_jumps_to_and_fro_ends_nothing():
    rows = [Frame(0x1, bytes([step & 1]), time_ns=10**18 + (step % 2) * 10**17) for step in range(5000)]
    (message,) = movements_of("x.log", ("can0",), [hand_made(rows)]).messages
    assert message.count == 5000
    assert 0 < len(message.sampled) <= 2048


def test_silences_are_noted():
    times = [number / 10 for number in range(20)] + [5 + number / 10 for number in range(20)]
    rows = [Frame(0x1, b"\0", time_ns=round(time * 1e9)) for time in times]
    (message,) = movements_of("x.log", ("can0",), [hand_made(rows)]).messages
    assert message.silences.tolist() == [[pytest.approx(1.9), pytest.approx(5.0)]]
    assert message.period == pytest.approx(0.1, rel=0.2)
