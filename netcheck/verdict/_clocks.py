"""Captures of two loggers at one time: how far their clocks are apart."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from typing import Final

from netcheck.capture import Capture, open_capture
from netcheck.files import LoadedCapture, LoadedJob
from netcheck.network import clock_offset
from netcheck.verdict._captures import JobCaptures
from netcheck.verdict._warnings import ClocksApart

_LEAST_S: Final = 0.1  # a difference that a person with a watch cannot see is not told
_FRAMES: Final = 300_000  # of each capture, from its start: enough for some minutes
_MOST: Final = 4  # captures that are compared


def clocks_apart(job: LoadedJob, captures: JobCaptures) -> Iterator[ClocksApart]:
    """One for each two captures from before the fitting that saw the same and stamp it otherwise.

    A capture that can be read once only, such as a pipe, is not compared.
    """
    before = [capture for capture in job.captures if capture.when == "before"]
    timed = [
        loaded
        for loaded, seen in zip(before, captures.captures, strict=True)
        if seen.has_times and loaded.path.is_file()
    ][:_MOST]
    if len(timed) < 2:
        return
    heads = {loaded.path: tuple(_head(loaded)) for loaded in timed}
    for first, second in combinations(timed, 2):
        found = clock_offset(heads[first.path], heads[second.path])
        if found is not None and abs(found.seconds) >= _LEAST_S:
            yield ClocksApart(first.name, second.name, found.seconds, found.moments)


def _head(loaded: LoadedCapture) -> Iterator[Capture]:
    """Chunks of the capture's beginning."""
    frames = 0
    for chunk in open_capture(loaded.path):
        yield chunk
        frames += len(chunk)
        if frames >= _FRAMES:
            return
