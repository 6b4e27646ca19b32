"""A file that is read whole: a regular one, and not larger than what is meant can be."""

from __future__ import annotations

import os
import stat
from os import PathLike
from typing import Final

from netcheck.errors import InputError

_PIECE: Final = 1 << 20


def read_whole(path: str | PathLike[str], most: int) -> bytes:
    """The bytes of a regular file.

    A pipe is not waited for, a device not read, and what grows meanwhile is read to ``most`` bytes only.
    Raises OSError as opening and reading do, ValueError for a path that cannot be one, InputError for what
    is no regular file or has more than ``most`` bytes.
    """
    number = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    with os.fdopen(number, "rb", buffering=0) as stream:
        status = os.fstat(number)
        kind, told = status.st_mode, status.st_size
        if stat.S_ISDIR(kind):
            raise IsADirectoryError(path)
        if not stat.S_ISREG(kind):
            raise InputError(path, "is a device or a pipe, not a file", remedy="copy it into a file first")
        pieces = []
        size = 0
        while piece := stream.read(_PIECE):
            pieces.append(piece)
            size += len(piece)
            if size > most:
                raise InputError(path, f"{max(size, told) >> 20} MB is too large for this kind of file")
    return b"".join(pieces)
