"""How punctual a replay is: ``python -m tests.bench.punctuality LOG [OPTION …]``.

A second process records what ``netcheck replay`` sends over multicast; the periods of both are compared,
message by message. What comes out depends on the machine, so nothing here is a test.
"""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

import netcheck
from tests.bench.recorder import RECORDER, multicast, multicast_fault

LEAST = 50  # frames of a message that make a percentile worth a word
_PERCENTS = (50, 1, 99)


class Gaps(NamedTuple):
    """Of one message, in milliseconds: median, 1st and 99th percentile, in the log and as recorded."""

    can_id: int
    log: tuple[float, ...]
    recorded: tuple[float, ...]


class Punctuality(NamedTuple):
    """sent, recorded: frames; drift_ms: how much later the last frames are than the first, by the log."""

    sent: int
    recorded: int
    drift_ms: float
    gaps: tuple[Gaps, ...]

    @property
    def period_ms(self) -> tuple[float, float]:
        """The log's median period, and by how much a recorded one is off it: medians over the messages."""
        log = np.median([message.log[0] for message in self.gaps])
        off = np.median([abs(message.recorded[0] - message.log[0]) for message in self.gaps])
        return float(log), float(off)

    @property
    def jitter_ms(self) -> tuple[float, float]:
        """From the 1st to the 99th percentile of the gaps, in the log and as recorded: the same medians."""
        log, recorded = (
            np.median([side[2] - side[1] for side in sides])
            for sides in zip(*((message.log, message.recorded) for message in self.gaps), strict=True)
        )
        return float(log), float(recorded)


def measure(log: Path, options: Sequence[str] = (), least: int = LEAST) -> Punctuality:
    """Replay the first channel of a log and compare.

    least: frames that a message must have
    Raises RuntimeError where no multicast goes through.
    """
    wire = multicast()
    fault = multicast_fault(wire)
    if fault:
        raise RuntimeError(fault)
    capture = netcheck.read_capture(log)
    keep = (capture.channel == 0) & ~capture.is_error
    times, ids = capture.time_ns[keep], capture.can_id[keep]
    recorder = [sys.executable, "-c", RECORDER, json.dumps(wire), str(len(times))]
    with subprocess.Popen(recorder, stdout=subprocess.PIPE, text=True) as recording:
        assert recording.stdout is not None
        recording.stdout.readline()
        where = ["--channel", f"{capture.channels[0]}={wire['channel']}", "--option", f"port={wire['port']}"]
        command = [sys.executable, "-m", "netcheck", "replay", str(log), "--interface", "udp_multicast"]
        done = subprocess.run(
            [*command, *where, "--transmit", *options], capture_output=True, text=True, check=False
        )
        if done.returncode:
            recording.kill()
            raise RuntimeError(done.stderr)
        again = np.array([int(line[1:18].replace(".", "")) for line in recording.stdout]) * 1000
    return compare(times, ids, again, least)


def compare(
    times: NDArray[np.int64], ids: NDArray[np.uint32], again: NDArray[np.int64], least: int = LEAST
) -> Punctuality:
    """Times in ns, frame by frame; where frames are missing, nothing but their number can be told."""
    if len(again) != len(times):
        return Punctuality(len(times), len(again), float("nan"), ())
    off = (again - again[0]) - (times - times[0])
    drift = (np.median(off[-500:]) - np.median(off[:500])) / 1e6
    gaps = []
    for can_id in np.unique(ids):
        mine = ids == can_id
        if np.count_nonzero(mine) >= least:
            log, recorded = (
                tuple(np.percentile(np.diff(side[mine]) / 1e6, _PERCENTS).tolist()) for side in (times, again)
            )
            gaps.append(Gaps(int(can_id), log, recorded))
    return Punctuality(len(times), len(again), float(drift), tuple(gaps))


def main(log: str, *options: str) -> None:
    found = measure(Path(log), options)
    say = sys.stdout.write
    say(f"{found.recorded} of {found.sent} frames recorded\n")
    say(f"drift from the first to the last 500 frames: {found.drift_ms:.3f} ms\n")
    say("id        median, 1st and 99th percentile of the gaps in ms: log | recorded\n")
    for message in found.gaps:
        words = " | ".join(" ".join(f"{value:8.2f}" for value in side) for side in message[1:])
        say(f"{message.can_id:08X}  {words}\n")


if __name__ == "__main__":
    main(*sys.argv[1:])
