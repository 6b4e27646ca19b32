"""``python -m tests.fuzz [TARGET] [SECONDS]``: run a target, or all, and say how many inputs it took."""

from __future__ import annotations

import argparse
import sys
import time

from tests.fuzz.harness import run, run_one
from tests.fuzz.targets import TARGETS


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    parser.add_argument("target", choices=(*TARGETS, "all"), help="what to run")
    parser.add_argument("seconds", type=float, nargs="?", default=10.0, help="how long each target runs")
    parser.add_argument("--seed", type=int, help="run this one input again")
    parser.add_argument("--first", type=int, default=int(time.time()) * 1000, help="seed of the first input")
    chosen = parser.parse_args()
    for name in TARGETS if chosen.target == "all" else [chosen.target]:
        if chosen.seed is not None:
            run_one(name, chosen.seed, is_timed=True)
            sys.stdout.write(f"{name}: seed {chosen.seed} is fine\n")
            continue
        count = run(name, seconds=chosen.seconds, first=chosen.first)
        sys.stdout.write(f"{name}: {count:,} inputs from seed {chosen.first}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
