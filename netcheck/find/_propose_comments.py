"""What DBC files say of signals in words: their comments, which layouts do not keep."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from os import PathLike
from pathlib import Path
from typing import Final

from netcheck.database import Database

_COMMENT: Final = re.compile(r'^CM_\s+SG_\s+(\d+)\s+(\w+)\s+"((?:[^"\\]|\\.)*)"', re.MULTILINE)
_EXTENDED: Final = 1 << 31  # flag of a 29-bit id in a DBC file


def signal_comments(
    database: Database, files: Iterable[str | PathLike[str]]
) -> Mapping[tuple[str, str], str]:
    """(message, signal) -> its comment, of the files that ``database`` was loaded from."""
    names = {
        message.can_id | (_EXTENDED if message.is_extended else 0): message.name
        for message in database.messages
    }
    found = {}
    for file in files:
        text = Path(file).read_bytes().decode("utf-8", "replace")
        for number, signal, comment in _COMMENT.findall(text):
            message = names.get(int(number))
            if message is not None:
                found[message, signal] = " ".join(comment.split())
    return found
