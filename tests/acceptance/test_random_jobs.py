"""Plans of random small jobs beside an oracle that was written from the rules of verdicts alone.

``python -m tests.acceptance.test_random_jobs FIRST END`` compares as many jobs as one has time for.
"""

from __future__ import annotations

import sys
import tempfile
from collections import Counter
from pathlib import Path
from random import Random

import pytest

from tests.acceptance.compare import difference
from tests.acceptance.random_jobs import random_job

BATCH = 50


def compare(seeds: range, folder: Path, seen: Counter[str]) -> dict[int, list[str]]:
    """What differs, by seed."""
    found = {seed: difference(random_job(Random(seed)), folder, seen) for seed in seeds}
    return {seed: lines for seed, lines in found.items() if lines}


@pytest.mark.parametrize("batch", range(8))
def test_a_plan_says_what_the_rules_say(tmp_path, batch):
    seen: Counter[str] = Counter()
    assert compare(range(batch * BATCH, (batch + 1) * BATCH), tmp_path, seen) == {}
    assert len(seen) > 15  # of the verdicts, reasons and conflicts; else the jobs are too tame to tell


def main() -> None:
    seen: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as folder:
        for seed in range(int(sys.argv[1]), int(sys.argv[2])):
            for lines in compare(range(seed, seed + 1), Path(folder), seen).values():
                sys.stdout.write(f"{seed}: {'; '.join(lines)}\n")
    sys.stdout.write("".join(f"{count:7} {what}\n" for what, count in seen.most_common()))


if __name__ == "__main__":
    main()
