"""Paths as a new file writes them."""

from __future__ import annotations

import os
from pathlib import Path


def relative(path: Path, folder: Path) -> str:
    """A path counted from the folder that the new file stands in."""
    return Path(os.path.relpath(path.resolve(), folder)).as_posix()
