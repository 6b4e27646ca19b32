"""A log that grows line by line and is whole whenever writing ends, however it ends."""

from __future__ import annotations

import errno
import os
from contextlib import suppress
from pathlib import Path

from netcheck.errors import InputError


class LogFile:
    """A new file of whole lines. One that is there is refused; with ``replace`` the first write empties it.

    Raises InputError when it cannot be made or written. After a failed ``write`` the file ends with the last
    whole line that the disk took.
    """

    def __init__(self, path: Path, *, replace: bool = False) -> None:
        self.path = path
        self.size = 0  # bytes of whole lines
        self._is_old = replace and path.exists()
        how = os.O_WRONLY | os.O_CREAT | (0 if replace else os.O_EXCL) | getattr(os, "O_BINARY", 0)
        try:
            self._fd = os.open(path, how, 0o666)
        except FileExistsError as error:
            raise InputError(
                path,
                "exists already",
                where="-o",
                remedy="name a different file, or give --force to replace it",
            ) from error
        except OSError as error:
            raise InputError(
                path, f"cannot be written: {error.strerror or error}", remedy="choose another place with -o"
            ) from error
        self._is_open = True

    def write(self, lines: bytes) -> None:
        """Append whole lines."""
        done = 0
        view = memoryview(lines)
        try:
            if self._is_old:
                os.ftruncate(self._fd, 0)
                self._is_old = False
            while done < len(lines):
                done += os.write(self._fd, view[done:])
        except OSError as error:
            whole = lines.rfind(b"\n", 0, done) + 1
            with suppress(OSError):
                os.ftruncate(self._fd, self.size + whole)
            self.size += whole
            raise self._fault(error) from error
        self.size += len(lines)

    def sync(self) -> None:
        """Wait until the disk has what was written."""
        try:
            os.fsync(self._fd)
        except OSError as error:
            if error.errno not in {errno.EINVAL, errno.ENOTSUP}:  # a file system that cannot
                raise self._fault(error) from error

    def close(self) -> None:
        """Close it; a log without a line goes, and a file that was to be replaced stays as it was."""
        if not self._is_open:
            return
        self._is_open = False
        with suppress(OSError):
            os.close(self._fd)
        if not self.size and not self._is_old:
            with suppress(OSError):
                self.path.unlink()

    def _fault(self, error: OSError) -> InputError:
        full = error.errno in {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}
        what = "the disk is full" if full else f"can no longer be written: {error.strerror or error}"
        remedy = "free some space and record again" if full else "record to another disk with -o"
        return InputError(self.path, what, remedy=remedy)
