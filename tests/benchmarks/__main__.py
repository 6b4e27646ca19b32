"""``python -m tests.benchmarks``: how fast netcheck is, beside a script on python-can and cantools.

Makes its own seeded logs in a temporary folder and prints one table. Nothing in it fails but a crash.
``--write`` also puts the table of a full run into the guide, in place of the one that stands there.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
from dataclasses import replace
from pathlib import Path

from tests.benchmarks.finding import finding_rows, score_rows
from tests.benchmarks.machine import machine, versions
from tests.benchmarks.rows import Sizes, rows
from tests.benchmarks.table import table, with_run

PAGE = Path(__file__).parents[2] / "netcheck" / "guide" / "measurements.md"
FULL = Sizes(frames=9_000_000, rounds=3, starts=9, scored=60)
QUICK = Sizes(frames=100_000, rounds=3, starts=5, scored=2)


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    parser.add_argument("--quick", action="store_true", help="small logs: shows that it runs, less how fast")
    parser.add_argument(
        "--frames", type=int, help="of the long log; memory is measured with ten times as many"
    )
    parser.add_argument("--write", action="store_true", help="put the table of a full run into the guide")
    given = parser.parse_args()
    if given.write and (given.quick or given.frames):
        parser.error("--write is for a full run")
    sizes = QUICK if given.quick else FULL
    if given.frames:
        sizes = replace(sizes, frames=given.frames)
    with tempfile.TemporaryDirectory(prefix="netcheck-benchmark-") as folder:
        cache = Path(folder) / "cache"
        os.environ["NETCHECK_CACHE_DIR"] = str(cache)
        measured = [
            *rows(Path(folder), sizes, _tell, cache),
            *finding_rows(Path(folder), sizes, _tell, cache),
            *score_rows(sizes.scored, _tell),
        ]
    run = f"{machine()}. {versions()}. Medians of {sizes.rounds} runs or more.\n\n{table(measured)}"
    sys.stdout.write(run)
    if given.write:
        PAGE.write_text(with_run(PAGE.read_text(encoding="utf-8"), run), encoding="utf-8")
    if sizes.frames < FULL.frames:
        sys.stdout.write(
            "\nSmall logs: the start of the process outweighs the reading, the ratios say little.\n"
        )


def _tell(text: str) -> None:
    sys.stderr.write(f"{text} …\n")


if __name__ == "__main__":
    main()
