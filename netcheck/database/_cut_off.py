"""Whether a DBC text ends in the middle of an entry: cantools reads such a file and drops the entry."""

from __future__ import annotations

import re
from typing import Final

_STRING: Final = re.compile(r'"(?:\\.|[^"\\])*"', re.DOTALL)
_ENTRY: Final = re.compile(r"^[ \t]*(BO_|SG_|[A-Z][A-Z_]*_)(?![A-Za-z0-9_])", re.MULTILINE)
_WHOLE_MESSAGE: Final = re.compile(r"\s*BO_\s+\d+\s+\w+\s*:\s*\d+\s+\w+\s*")
_WHOLE_SIGNAL: Final = re.compile(r'\s*SG_\s+\w+(\s+\w+)?\s*:[^"]*\]\s*""\s*\w+(\s*,\s*\w+)*\s*')
_LISTS: Final = frozenset({"NS_", "BS_", "BU_"})  # these begin a file and hold no message


def cut_off(text: str) -> str:
    """The complaint about an unfinished last entry, "" where the text ends with a whole one."""
    bare = _STRING.sub(lambda found: '""' + "\n" * found[0].count("\n"), text)
    entries = list(_ENTRY.finditer(bare))
    if not entries or entries[-1][1] in _LISTS:
        return ""
    last = entries[-1]
    tail = bare[last.start() :]
    if last[1] == "BO_":
        whole = _WHOLE_MESSAGE.fullmatch(tail)
    elif last[1] == "SG_":
        whole = _WHOLE_SIGNAL.fullmatch(tail)
    else:
        whole = re.search(r";\s*$", tail)
    if whole:
        return ""
    line = bare.count("\n", 0, last.start(1)) + 1
    lacks = "is incomplete" if last[1] in {"BO_", "SG_"} else "has no ';'"
    return (
        f"line {line}: the {last[1]} entry that ends the file {lacks} and is left out: was the file cut off?"
    )
