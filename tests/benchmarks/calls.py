"""Run as a process of its own: reads a log several times and prints how long each call took.

The first call of a process also loads the kernels, and has the system find the memory.
"""

from __future__ import annotations

import sys

from netcheck import read_capture
from tests.benchmarks.measure import timed


def main() -> None:
    log, times = sys.argv[1], int(sys.argv[2])
    print(*(timed(lambda: read_capture(log)) for _ in range(times)))  # noqa: T201


if __name__ == "__main__":
    main()
