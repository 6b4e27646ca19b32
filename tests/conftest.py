"""Settings for every test."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import settings

import netcheck
from netcheck._compile import kernels

# The first call of a kernel may compile it: no deadline tells anything there. On a server that checks changes
# the examples are the same each time, so that a change is judged by what it does; other runs look further.
settings.register_profile("netcheck", deadline=None, print_blob=True, derandomize="CI" in os.environ)
settings.load_profile("netcheck")


def pytest_configure(config: pytest.Config) -> None:
    """Kernels are compiled once, before any test and any worker, where they are not kept already."""
    if hasattr(config, "workerinput"):
        return
    root = Path(netcheck.__file__).parent
    for path in root.glob("*/*.py"):
        if "\n@cached_kernel(" in path.read_text(encoding="utf-8"):
            kernels(f"netcheck.{path.parent.name}.{path.stem}").prepare()
