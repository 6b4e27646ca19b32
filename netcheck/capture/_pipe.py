"""A pipe read without waiting for ever: for somebody who opens it, or after the reader has gone."""

from __future__ import annotations

import os
import select
import threading
import time
from typing import Final

from netcheck.errors import InputError

_WAIT_S: Final = 10.0  # for somebody who writes
_STEP_S: Final = 0.05


class Pipe:
    """A named pipe, opened at once.

    Raises InputError when nobody opens its other end, OSError as ``open`` does.
    """

    def __init__(self, file: str, stop: threading.Event) -> None:
        self._file = file
        self._stop = stop
        self._number = os.open(file, os.O_RDONLY | os.O_NONBLOCK)
        self._is_closed = False
        self._has_writer = False

    def read(self, wanted: int) -> bytes:
        """The next bytes; empty once everybody who wrote has gone, or the reader is stopped."""
        until = time.monotonic() + _WAIT_S
        while not self._stop.is_set():
            try:
                data = os.read(self._number, wanted)
            except BlockingIOError:
                self._has_writer = True
            else:
                if data or self._has_writer:
                    self._has_writer = True
                    return data
                if time.monotonic() > until:
                    raise InputError(
                        self._file,
                        f"is a pipe, and nobody wrote to it for {_WAIT_S:.0f} s",
                        remedy="start what writes to it, or name a file",
                    )
                self._stop.wait(_STEP_S)
                continue
            select.select([self._number], [], [], 4 * _STEP_S)
        return b""

    def close(self) -> None:
        """Closes it."""
        if not self._is_closed:
            self._is_closed = True
            os.close(self._number)
