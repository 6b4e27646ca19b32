"""A capture that plays on a virtual bus."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from pathlib import Path

import can
import pytest

from netcheck.capture import ERROR, EXTENDED, FD, REMOTE
from netcheck.edit import capture_lines
from netcheck.errors import InputError, UsageError
from netcheck.testing import ReplayedBus
from tests.captures import Frame, hand_made

MS = 1_000_000
START = 1_700_000_000_000_000_000
KINDS = [
    Frame(0x123, b"\x11\x22", 0, START),
    Frame(0x12345678, bytes(8), EXTENDED, START + 10 * MS),
    Frame(0x18, bytes(range(12)), FD | 16, START + 20 * MS),
    Frame(0x321, b"", REMOTE, START + 20 * MS, length=4),
    Frame(0x4, b"\x00", ERROR, START + 30 * MS),
]


def put(path: Path, some: list[Frame]) -> Path:
    path.write_bytes(capture_lines(hand_made(some)))
    return path


@pytest.fixture
def play(tmp_path) -> Iterator:
    opened: list[ReplayedBus] = []

    def start(some: list[Frame], **options) -> ReplayedBus:
        opened.append(ReplayedBus(put(tmp_path / "x.log", some), **options))
        return opened[-1]

    yield start
    for bus in opened:
        bus.shutdown()
    assert not [thread.name for thread in threading.enumerate() if thread.name.startswith("netcheck-")]


@pytest.mark.parametrize("speed", [0, 1, 100])
def test_frames_come_as_they_were_recorded(play, speed):
    received = list(play(KINDS, speed=speed))
    for frame, message in zip(KINDS, received, strict=True):
        assert (message.arbitration_id, bytes(message.data)) == (frame.can_id, frame.data)
        assert round(message.timestamp * 1e6) == frame.time_ns // 1000
        assert message.is_rx
        kinds = (message.is_fd, message.is_remote_frame, message.is_error_frame, message.bitrate_switch)
        assert kinds == tuple(bool(frame.flags & flag) for flag in (FD, REMOTE, ERROR, 16))
    assert received[3].dlc == 4


def test_recv_ends_with_the_capture(play):
    bus = play(KINDS, speed=0)
    assert [bus.recv() is not None for _ in range(6)] == [True] * 5 + [False]
    assert bus.recv(0) is None
    assert bus.is_over


def test_whoever_joins_before_it_starts_misses_nothing_and_is_heard(play):
    bus = play(KINDS, speed=0)
    with can.Bus(bus.channel_id, interface="virtual") as box:
        assert box.recv(0) is None
        bus.start()
        assert bus.wait(30)
        assert [box.recv(30).arbitration_id for _ in KINDS] == [frame.can_id for frame in KINDS]
        box.send(can.Message(arbitration_id=0x700, data=b"\x01", is_extended_id=False))
        assert [message.arbitration_id for message in bus][-1] == 0x700


def test_as_fast_as_read_waits_for_the_reader(play):
    bus = play([Frame(n % 0x700, b"") for n in range(5000)], speed=0)
    assert bus.recv(30) is not None
    assert not bus.wait(0.2)  # nobody reads: it cannot end
    assert len(list(bus)) == 4999
    assert bus.is_over


def test_one_that_never_reads_does_not_hold_up_the_others(play):
    bus = play([Frame(n % 0x700, b"") for n in range(3000)], speed=0)
    with can.Bus(bus.channel_id, interface="virtual") as box:
        bus.start()
        assert sum(box.recv(30) is not None for _ in range(3000)) == 3000


@pytest.mark.parametrize("speed", [0, 1])
def test_it_can_be_left_at_any_time(tmp_path, speed):
    some = [Frame(1, b"", 0, START), Frame(1, b"", 0, START + 3600_000 * MS)]
    bus = ReplayedBus(put(tmp_path / "x.log", some * 1000), speed=speed)
    assert bus.recv(30) is not None
    leaving = threading.Thread(target=bus.shutdown, daemon=True)
    leaving.start()
    leaving.join(30)
    assert not leaving.is_alive()
    ReplayedBus(tmp_path / "x.log").shutdown()  # never started


def test_one_channel_of_several(play, tmp_path):
    some = [Frame(1, b""), Frame(2, b"", channel="can1"), Frame(3, b"")]
    assert [message.arbitration_id for message in play(some, speed=0, channel="can0")] == [1, 3]
    with pytest.raises(UsageError, match="has channels can0, can1 – say which with channel="):
        play(some)
    with pytest.raises(UsageError, match="has no channel can2 – it has can0, can1"):
        play(some, channel="can2")
    with pytest.raises(UsageError, match="speed -1 is below 0"):
        play(some, speed=-1)
    for speed in (float("nan"), float("inf")):
        with pytest.raises(UsageError, match=f"speed {speed:g} is none – 1 for real time"):
            play(some, speed=speed)
    with pytest.raises(InputError, match="there is no such file"):
        ReplayedBus(tmp_path / "gone.log")
