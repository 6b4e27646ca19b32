"""The demo's van on a live bus: its traffic in real time over the loopback, as a vehicle beside a technician.

``python -m tests.demo.live PORT NETWORK YEAR SECONDS ROLE@BEGIN-END …`` sends it and holds the roles active.
"""

from __future__ import annotations

import sys
import threading
import time
from collections.abc import Sequence

import can

from tests.demo.van import Van
from tests.live import open_sender


def drive(port: int, network: str, year: int, seconds: float, holds: Sequence[str]) -> None:
    """Send the traffic of one network of a van."""
    van = Van(year)
    for hold in holds:
        role, _, span = hold.partition("@")
        begin, _, end = span.partition("-")
        if role == "ignition-off":
            van.ignition_off(float(begin), float(end))
        else:
            van.hold(role, float(begin), float(end))
    frames = van.frames(network, seconds, seed=7)
    pause = threading.Event()
    with open_sender(port) as bus:
        start = time.perf_counter()
        for frame in frames:
            while time.perf_counter() - start < frame.time_us / 1e6:
                pause.wait(0.001)
            bus.send(
                can.Message(arbitration_id=frame.can_id, is_extended_id=frame.is_extended, data=frame.data)
            )


if __name__ == "__main__":
    drive(int(sys.argv[1]), sys.argv[2], int(sys.argv[3]), float(sys.argv[4]), sys.argv[5:])
