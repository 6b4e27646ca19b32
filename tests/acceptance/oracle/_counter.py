"""Does a rolling counter count, or is it a gateway's copy of one that does?"""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from itertools import groupby, pairwise

from tests.acceptance.oracle._frames import has_limits, median
from tests.acceptance.small_jobs import Sig


def says(sig: Sig, stretches: list[list[int]]) -> str:
    """ok, counter-frozen or counter-jumps, from the counts of each awake stretch."""
    if _is_repeated(stretches):
        stretches = [[count for count, _ in groupby(counts)] for counts in stretches]
    modulus = _modulus(sig)
    steps = [(after - before) % modulus for counts in stretches for before, after in pairwise(counts)]
    if 2 * steps.count(0) > len(steps):
        return "counter-frozen"
    if not steps:
        return "ok"
    usual = _usual(steps)
    return "counter-jumps" if 100 * sum(step != usual for step in steps) > len(steps) else "ok"


def _modulus(sig: Sig) -> int | Fraction:
    high = (Fraction(sig.high) - Fraction(sig.offset)) / Fraction(sig.factor)
    return high + 1 if has_limits(sig) and high + 1 < 1 << sig.width else 1 << sig.width


def _is_repeated(stretches: list[list[int]]) -> bool:
    """Whether each count comes several times, about equally often."""
    inner, outer = [], []
    for counts in stretches:
        repeats = [len(list(same)) for _, same in groupby(counts)]
        inner += repeats[1:-1]
        outer += [*repeats[:1], *repeats[-1:]]
    if len(inner) < 2 or (usual := median(inner)) <= 1:
        return False
    return all(abs(count - usual) <= 1 for count in inner) and max(outer) <= usual + 1


def _usual(steps: list[int | Fraction]) -> int | Fraction:
    """1, or the step of a copy that is sent less often."""
    (step, count), *_ = Counter(steps).most_common()
    is_constant = len(steps) > 1 and 100 * (len(steps) - count) <= len(steps)
    return step if is_constant and step != 0 else 1
