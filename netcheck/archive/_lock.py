"""One writer at a time: the operating system's lock on a file, which ends with the process that holds it."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

try:
    import fcntl
except ImportError:  # not a POSIX system
    fcntl: Any = None  # type: ignore[no-redef]

_HELD: Final = {errno.EACCES, errno.EDEADLK}  # what Windows says after ten seconds of waiting


@contextmanager
def locked(path: Path) -> Iterator[None]:
    """Waits for the lock and holds it while the block runs. Raises OSError where the file cannot be made."""
    number = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        if fcntl is not None:
            fcntl.flock(number, fcntl.LOCK_EX)
            yield
        else:
            system = _windows()
            _lock_first_byte(system, number)
            try:
                yield
            finally:
                os.lseek(number, 0, os.SEEK_SET)
                system.locking(number, system.LK_UNLCK, 1)
    finally:
        os.close(number)


def _windows() -> Any:
    import msvcrt

    return msvcrt


def _lock_first_byte(system: Any, number: int) -> None:
    """Windows tries for ten seconds; who holds the lock may need longer."""
    while True:
        try:
            system.locking(number, system.LK_LOCK, 1)
        except OSError as error:
            if error.errno not in _HELD:
                raise
        else:
            return
