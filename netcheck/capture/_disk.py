"""A regular file read by position, into memory that is used again.

It is not mapped: a mapped file that shrinks, or whose disk is pulled out, ends the whole process; a read
that comes back short is an error like any other.
"""

from __future__ import annotations

import io
import os
import threading
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from netcheck.capture._codes import LONGEST_LINE
from netcheck.errors import InputError

_LOOK: Final = 1 << 12  # bytes looked at in one go for a line end
_HAS_PREADV: Final = hasattr(os, "preadv")


class DiskFile:
    """A regular file of ``size`` bytes; what is appended later is not read.

    number: its open descriptor, which is closed with this object

    Several threads may read at once. Raises InputError where the file ends before ``size`` or the disk fails.
    """

    def __init__(self, file: str, number: int, size: int) -> None:
        self.file = file
        self.size = size
        self._number = number
        self._lock = threading.Lock()

    def __del__(self) -> None:
        self.close()

    def close(self) -> None:
        """Closes the file; nobody reads any more."""
        number, self._number = self._number, -1
        if number >= 0:
            os.close(number)

    def read_into(self, at: int, room: NDArray[np.uint8]) -> None:
        """Fills ``room`` with the bytes from ``at`` on."""
        view = room.data
        done = 0
        while done < len(view):
            got = self._read_some(view[done:], at + done)
            if not got:
                raise InputError(
                    self.file,
                    f"became shorter while it was read: {self.size:,} bytes at first, then fewer",
                    remedy="copy it first, and read the copy",
                )
            done += got

    def read(self, at: int, wanted: int) -> bytes:
        """The bytes from ``at`` on."""
        room = np.empty(wanted, np.uint8)
        self.read_into(at, room)
        return room.tobytes()

    def _read_some(self, view: memoryview, at: int) -> int:
        try:
            if _HAS_PREADV:
                return os.preadv(self._number, [view], at)
            with self._lock:
                os.lseek(self._number, at, os.SEEK_SET)
                data = os.read(self._number, len(view))
            view[: len(data)] = data
            return len(data)
        except OSError as error:
            raise os_error(self.file, error) from error

    def cut(self, begin: int, chunk_bytes: int) -> int:
        """Where a piece from ``begin`` on ends: behind a line end, -1 if none is near enough.

        That is the last line end within ``chunk_bytes``, else the first within a longest line.
        """
        stop = high = min(begin + chunk_bytes, self.size)
        while high > begin:
            low = max(begin, high - _LOOK)
            found = self.read(low, high - low).rfind(b"\n")
            if found >= 0:
                return low + found + 1
            high = low
        reach = min(begin + LONGEST_LINE + 1, self.size)
        found = self.read(stop, reach - stop).find(b"\n") if reach > stop else -1
        return stop + found + 1 if found >= 0 else -1

    def next_line(self, at: int) -> int:
        """The place behind the next line end from ``at`` on; -1 when there is none."""
        while at < self.size:
            part = self.read(at, min(1 << 20, self.size - at))
            found = part.find(b"\n")
            if found >= 0:
                return at + found + 1
            at += len(part)
        return -1


class DiskReader(io.RawIOBase):
    """A ``DiskFile`` as a file to read on from."""

    def __init__(self, disk: DiskFile) -> None:
        self._disk = disk
        self.at = 0

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: Any) -> int:
        wanted = min(len(buffer), self._disk.size - self.at)
        self._disk.read_into(self.at, np.frombuffer(buffer, np.uint8)[:wanted])
        self.at += wanted
        return wanted


def os_error(file: str, error: OSError) -> InputError:
    """What the system says of a file, as an error that names it."""
    if isinstance(error, FileNotFoundError):
        return InputError(file, "there is no such file", remedy="check the name and the folder")
    if isinstance(error, PermissionError):
        return InputError(
            file, "cannot be read: no permission", remedy="get read permission, or copy the file"
        )
    return InputError(file, f"cannot be read ({error.strerror or error})", remedy="copy it again")
