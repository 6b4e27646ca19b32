"""Captures that tests read again and again, kept for the session."""

from __future__ import annotations

import hashlib
import os
from collections import OrderedDict
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

from numpy.typing import NDArray

from netcheck.capture import Capture, Columns, read_capture

MOST_BYTES: Final = 1 << 29  # of columns that are kept; those unused for longest go first


class CaptureCache:
    """Captures by the content of their files: a file that was written again is read again.

    What it gives is shared, so its columns are read-only.
    """

    def __init__(self, most_bytes: int = MOST_BYTES) -> None:
        self._most = most_bytes
        self._kept: OrderedDict[tuple[str, str], Capture] = OrderedDict()

    def read(self, path: Path) -> Capture:
        """The capture in a file. Raises InputError as ``read_capture`` does; a pipe is read and not kept."""
        if not path.is_file():
            return read_capture(path)
        key = _digest(path), "".join(path.suffixes).lower()
        known = self._kept.pop(key, None)
        if known is None:
            known = read_capture(path)
            for column in _columns(known):
                column.flags.writeable = False
        self._kept[key] = known
        while len(self._kept) > 1 and sum(map(_size, self._kept.values())) > self._most:
            self._kept.popitem(last=False)
        name = os.fspath(path)
        return known if known.file == name else replace(known, file=name)


def _columns(capture: Capture) -> list[NDArray[Any]]:
    return [getattr(capture, name) for name in Columns._fields]


def _size(capture: Capture) -> int:
    return sum(column.nbytes for column in _columns(capture))


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "blake2b").hexdigest()
