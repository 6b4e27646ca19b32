"""How punctual a replay is: ``python -m tests.bench.punctuality LOG [OPTION …]``.

A second process records what ``netcheck replay`` sends over multicast; the periods of both are compared,
message by message. What comes out depends on the machine, so nothing here is a test.
"""

from __future__ import annotations

import json
import subprocess
import sys

import numpy as np

import netcheck
from tests.bench.test_replay import RECORDER

WIRE = {"interface": "udp_multicast", "channel": "239.74.163.43", "port": 43131}
LEAST = 50  # frames of a message that make a percentile worth a word


def main(log: str, *options: str) -> None:
    capture = netcheck.read_capture(log)
    keep = (capture.channel == 0) & ~capture.is_error
    times, ids = capture.time_ns[keep], capture.can_id[keep]
    recorder = subprocess.Popen(
        [sys.executable, "-c", RECORDER, json.dumps(WIRE), str(len(times))], stdout=subprocess.PIPE, text=True
    )
    assert recorder.stdout is not None
    recorder.stdout.readline()
    where = ["--channel", f"{capture.channels[0]}={WIRE['channel']}", "--option", f"port={WIRE['port']}"]
    command = [sys.executable, "-m", "netcheck", "replay", log, "--interface", "udp_multicast", *where]
    subprocess.run([*command, "--transmit", *options], check=True)
    again = np.array([int(line[1:18].replace(".", "")) for line in recorder.stdout]) * 1000
    show(times, ids, again)


def show(times: np.ndarray, ids: np.ndarray, again: np.ndarray) -> None:
    """Drift from beginning to end, and the gaps of every message in both."""
    say = sys.stdout.write
    say(f"{len(again)} of {len(times)} frames recorded\n")
    off = (again - again[0]) - (times - times[0])
    drift = (np.median(off[-500:]) - np.median(off[:500])) / 1e6
    say(f"drift from the first to the last 500 frames: {drift:.3f} ms\n")
    say("id        median, 1st and 99th percentile of the gaps in ms: log | recorded\n")
    for can_id in np.unique(ids):
        mine = ids == can_id
        if np.count_nonzero(mine) >= LEAST:
            sides = (np.percentile(np.diff(side[mine]) / 1e6, [50, 1, 99]) for side in (times, again))
            words = " | ".join(" ".join(f"{value:8.2f}" for value in side) for side in sides)
            say(f"{can_id:08X}  {words}\n")


if __name__ == "__main__":
    main(*sys.argv[1:])
