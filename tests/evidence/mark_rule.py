"""The second edition of the rule for a mark, as a plain walk: what a proposed mark is judged by."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from itertools import pairwise
from statistics import median_low

from netcheck.files import Mark

S = 1_000_000_000

Sample = tuple[int, int | None]  # ns of the log, raw value; None: "no value"


class Role:
    """A role in a recording. samples: its frames; traffic: times of all frames; both in order of time."""

    def __init__(self, samples: Sequence[Sample], traffic: Sequence[int]) -> None:
        self.samples = samples
        self.valid = [(at, raw) for at, raw in samples if raw is not None]
        self.awake: list[list[int]] = []  # a silence of more than a second is sleep
        for at in traffic:
            if self.awake and at - self.awake[-1][1] <= S:
                self.awake[-1][1] = at
            else:
                self.awake.append([at, at])
        times = [at for at, _ in samples]
        gaps = [b - a for a, b in pairwise(times) if self.woke(a) == self.woke(b)]
        self.gap = min(median_low(gaps), 2 * S) if gaps else 0

    def woke(self, at: int) -> int | None:
        """When the network woke up before ``at``; None while it sleeps."""
        return next((first for first, last in self.awake if first <= at <= last), None)

    def value(self, at: int) -> int | None:
        """That of the last valid frame since the network woke up; None where there is none."""
        index = bisect_right(self.valid, at, key=lambda sample: sample[0]) - 1
        since = self.woke(at)
        if index < 0 or since is None or self.valid[index][0] < since:
            return None
        return self.valid[index][1]

    def answers(self, mark: Mark, wanted: int, first_ns: int) -> bool:
        """Whether it has the marked state where the mark is judged; of a short mark, in a frame."""
        begin, end = first_ns + round(mark.from_ * S), first_ns + round(mark.to * S)
        low, high = begin + S // 2 + self.gap, end - S // 2
        if high - low < S // 5:
            around = range(begin - S // 2, end + S // 2 + self.gap + 1)
            return any(at in around and raw == wanted for at, raw in self.valid)
        changes = {at + step for first, last in self.awake for at, step in ((first, -1), (last, 1))}
        changes |= {at for at, _ in self.valid}
        return all(self.value(at) == wanted for at in {low, high, *(at for at in changes if low < at < high)})
