"""One writer at a time: the operating system's lock on a file, which ends with the process that holds it."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

try:
    import fcntl
except ImportError:  # not a POSIX system
    fcntl: Any = None  # type: ignore[no-redef]


@contextmanager
def locked(path: Path) -> Iterator[None]:
    """Waits for the lock and holds it while the block runs. Raises OSError where the file cannot be made."""
    number = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        if fcntl is not None:
            fcntl.flock(number, fcntl.LOCK_EX)
            yield
        else:
            import msvcrt

            system: Any = msvcrt
            system.locking(number, system.LK_LOCK, 1)
            yield
            os.lseek(number, 0, os.SEEK_SET)
            system.locking(number, system.LK_UNLCK, 1)
    finally:
        os.close(number)
