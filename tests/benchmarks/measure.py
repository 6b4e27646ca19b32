"""Timing of both sides in turn, and of whole processes with their memory."""

from __future__ import annotations

import gc
import os
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Final, NamedTuple

_STARTER: Final = """\
import os, sys, time
nothing = os.open(os.devnull, os.O_WRONLY)
begin = time.perf_counter()
quiet = [(os.POSIX_SPAWN_DUP2, nothing, 1)]
child = os.posix_spawn(sys.argv[1], sys.argv[1:], os.environ, file_actions=quiet)
_, status, usage = os.wait4(child, 0)
print(time.perf_counter() - begin, usage.ru_maxrss, os.waitstatus_to_exitcode(status))
"""


class Run(NamedTuple):
    """One run of a process. peak_mb: its resident memory at most, in units of 10^6 bytes."""

    seconds: float
    peak_mb: float
    status: int


def timed(function: Callable[[], object]) -> float:
    """Seconds that a call takes; its result is dropped after the clock has stopped."""
    gc.collect()
    begin = time.perf_counter()
    result = function()
    seconds = time.perf_counter() - begin
    del result
    return seconds


def in_turn(
    sides: Mapping[str, Callable[[], float]], rounds: int, again: Mapping[str, int] | None = None
) -> dict[str, float]:
    """Median of each side, which gives a figure a call; the sides take turns, so that none has it better.

    again: how often a side that is soon through is run in each of its turns; others once
    """
    figures: dict[str, list[float]] = {name: [] for name in sides}
    for _ in range(rounds):
        for name, side in sides.items():
            figures[name] += [side() for _ in range((again or {}).get(name, 1))]
    return {name: statistics.median(values) for name, values in figures.items()}


def process(arguments: Sequence[str], *, fine: Sequence[int] = (0,), cache: Path | None = None) -> Run:
    """Runs a command to its end, its output thrown away. Raises RuntimeError for another status than fine.

    It is started by a small process, as a new process counts the memory of the one that started it.
    """
    environment = os.environ | ({"NETCHECK_CACHE_DIR": str(cache)} if cache else {})
    environment.pop("PYTHONDONTWRITEBYTECODE", None)  # a second run is to find the byte code of the first
    starter = [sys.executable, "-I", "-S", "-c", _STARTER, *arguments]
    ran = subprocess.run(starter, capture_output=True, text=True, env=environment, check=True)
    seconds, peak, status = ran.stdout.split()
    if int(status) not in fine:
        raise RuntimeError(f"{' '.join(arguments)}: status {status}, {ran.stderr}")
    unit = 1 if sys.platform == "darwin" else 1024
    return Run(float(seconds), int(peak) * unit / 1e6, int(status))
