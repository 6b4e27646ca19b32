"""A bus on the loopback for tests of live recording: python-can's ``udp_multicast`` between processes.

``python -m tests.live PORT COUNT RATE`` sends COUNT numbered frames, RATE a second.
"""

from __future__ import annotations

import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

import can

GROUP = "239.74.163.77"
ROOT = Path(__file__).parents[1]
LONGEST = 240.0  # s until a condition is given up; an idle machine needs a hundredth of it


def free_port() -> int:
    """A UDP port that nobody uses."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.bind(("", 0))
        port: int = probe.getsockname()[1]
        return port


def open_sender(port: int) -> can.BusABC:
    """The other side of the bus."""
    return can.Bus(interface="udp_multicast", channel=GROUP, port=port, hop_limit=0, ignore_config=True)


def numbered(number: int) -> can.Message:
    """The frame with a number: as long as a classic frame can be."""
    return can.Message(
        arbitration_id=0x100 + number % 7, data=number.to_bytes(8, "big"), is_extended_id=False
    )


def start_sender(port: int, count: int, rate: int) -> subprocess.Popen[str]:
    """Numbered frames from a process of their own."""
    return subprocess.Popen(
        [sys.executable, "-m", "tests.live", str(port), str(count), str(rate)], cwd=ROOT, text=True
    )


def until(condition: Callable[[], object]) -> None:
    """Wait for a condition; fail when it never comes."""
    pause, end = threading.Event(), time.monotonic() + LONGEST
    while not condition():
        assert time.monotonic() < end, "the condition never came"
        pause.wait(0.01)


def send_numbered(port: int, count: int, rate: int) -> None:
    """Send at a steady rate, a millisecond's worth at once."""
    pause = threading.Event()
    with open_sender(port) as bus:
        begin = time.perf_counter()
        for number in range(count):
            while time.perf_counter() - begin < number / rate:
                pause.wait(0.001)
            bus.send(numbered(number))


if __name__ == "__main__":
    send_numbered(*(int(word) for word in sys.argv[1:4]))
