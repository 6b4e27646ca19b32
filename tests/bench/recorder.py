"""A second process that records what comes over multicast, and whether this machine lets it through."""

from __future__ import annotations

import importlib.util
import os
from typing import Any

import can

RECORDER = """
import json
import sys
import can
with can.Bus(**json.loads(sys.argv[1])) as bus:
    print("ready", flush=True)
    lines = []  # told at the end: a full pipe must not hold up the recording
    for number in range(int(sys.argv[2])):
        message = bus.recv(30)
        if message is None:
            break
        name = format(message.arbitration_id, "08X" if message.is_extended_id else "03X")
        bits = int(message.bitrate_switch) | 2 * int(message.error_state_indicator)
        data = "#R%d" % message.dlc if message.is_remote_frame else (
            ("##%d" % bits if message.is_fd else "#") + message.data.hex().upper())
        lines.append("(%.6f) can0 %s%s" % (message.timestamp, name, data))
print("\\n".join(lines))
"""

Wire = dict[str, Any]


def multicast(number: int = 0) -> Wire:
    """A multicast group on a port that no other process of ours uses."""
    port = 20_000 + (8 * os.getpid() + number) % 40_000
    return {"interface": "udp_multicast", "channel": "239.74.163.42", "port": port}


def multicast_fault(wire: Wire) -> str:
    """Why nothing can be sent this way; "" when it can."""
    if importlib.util.find_spec("msgpack") is None:
        return "python-can[multicast] is not installed"
    try:
        with can.Bus(**wire) as one, can.Bus(**wire) as two:
            one.send(can.Message(arbitration_id=1))
            return "" if two.recv(2) is not None else "multicast does not come back on this machine"
    except (OSError, can.CanError) as error:
        return f"no multicast on this machine: {error}"
