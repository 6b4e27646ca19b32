"""Deadlines, against a walk frame by frame; the size of the chunks does not matter."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from netcheck.bench._due import Deadlines

MS = 1_000_000
TIMES = st.lists(st.integers(0, 2_000), max_size=40)


def walked(times: list[int]) -> list[int]:
    """Each frame at its time from the start; behind by 100 ms or more, the clock was set back."""
    start = times[0] if times else 0
    latest, found = 0, []
    for time in times:
        if latest - (time - start) >= 100:
            start = time - latest
        latest = max(latest, time - start)
        found.append(latest)
    return found


@given(TIMES, st.integers(1, 40))
def test_as_walked(times: list[int], size: int) -> None:
    deadlines = Deadlines()
    column = np.array(times, np.int64) * MS
    found = np.concatenate([deadlines.of(column[at : at + size]) for at in range(0, len(times) or 1, size)])
    assert (found // MS).tolist() == walked(times)
    assert deadlines.latest_ns // MS == max(walked(times), default=0)


def test_over_many_frames_and_steps() -> None:
    times = [(n * 7) % 5_000 for n in range(20_000)]
    assert (Deadlines().of(np.array(times, np.int64) * MS) // MS).tolist() == walked(times)
