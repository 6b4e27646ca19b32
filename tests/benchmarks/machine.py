"""What a table of times needs to be read: the machine, and the versions of what ran on it."""

from __future__ import annotations

import os
import platform
from importlib.metadata import version
from pathlib import Path

LIBRARIES = ("numpy", "numba", "pandas", "python-can", "cantools")


def machine() -> str:
    """``2 cores of AMD EPYC, 24 GB, Linux``."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 1e9
    return f"{cores} core{'s' * (cores > 1)} of {_processor()}, {memory:.0f} GB, {platform.system()}"


def _processor() -> str:
    info = Path("/proc/cpuinfo")
    if info.exists():
        for line in info.read_text(encoding="utf-8").splitlines():
            if line.startswith("model name"):
                return line.partition(":")[2].strip()
    return platform.processor() or platform.machine()


def versions() -> str:
    """``Python 3.12.1, numpy 2.1.0, …``."""
    return ", ".join(
        [f"Python {platform.python_version()}", *(f"{name} {version(name)}" for name in LIBRARIES)]
    )
