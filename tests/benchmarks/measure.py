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
from typing import NamedTuple


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


def in_turn(sides: Mapping[str, Callable[[], float]], rounds: int) -> dict[str, float]:
    """Median of each side, which gives a figure a call; the sides take turns, so that none has it better."""
    figures: dict[str, list[float]] = {name: [] for name in sides}
    for _ in range(rounds):
        for name, side in sides.items():
            figures[name].append(side())
    return {name: statistics.median(values) for name, values in figures.items()}


def process(arguments: Sequence[str], *, fine: Sequence[int] = (0,), cache: Path | None = None) -> Run:
    """Runs a command to its end, its output thrown away. Raises RuntimeError for another status than fine."""
    environment = os.environ | ({"NETCHECK_CACHE_DIR": str(cache)} if cache else {})
    begin = time.perf_counter()
    child = subprocess.Popen(arguments, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, env=environment)
    assert child.stderr is not None
    said = child.stderr.read()
    _, status, usage = os.wait4(child.pid, 0)
    seconds = time.perf_counter() - begin
    child.stderr.close()
    child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode not in fine:
        raise RuntimeError(f"{' '.join(arguments)}: status {child.returncode}, {said.decode()}")
    unit = 1 if sys.platform == "darwin" else 1024
    return Run(seconds, usage.ru_maxrss * unit / 1e6, child.returncode)
