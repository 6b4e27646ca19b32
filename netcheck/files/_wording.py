"""How places and values of a file are written in a message, and the nearest of several names."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date, datetime, time
from difflib import SequenceMatcher
from typing import Any, Final

LISTED: Final = 8  # names that a message lists before it says how many more there are
LONGEST: Final = 60  # characters of a quoted value


def key_path(parts: Iterable[str | int]) -> str:
    """A key path as messages write it: ``item[0].network``; names that need quotes get them."""
    text = ""
    for part in parts:
        if isinstance(part, int):
            text += f"[{part}]"
        else:
            name = part if re.fullmatch(r"[\w.\-]+", part) else f'"{part}"'
            text += f".{name}" if text else name
    return text


def nearest_first(wrong: str, names: Iterable[str]) -> list[str]:
    """The names, those most like ``wrong`` first; equally like ones keep their order."""

    def unlike(name: str) -> float:
        return -SequenceMatcher(None, wrong.casefold(), name.casefold(), autojunk=False).ratio()

    return sorted(names, key=unlike)


def one_of(wrong: str, names: Iterable[str], *, none: str = "there is none", most: int = LISTED) -> str:
    """What would be right: ``one of a, b``, nearest first, ``most`` at most; ``none`` if there is nothing."""
    ordered = nearest_first(wrong, names)
    if not ordered:
        return none
    if len(ordered) == 1:
        return f"there is only {ordered[0]}"
    more = f" and {len(ordered) - most} more" if len(ordered) > most else ""
    return f"one of {', '.join(ordered[:most])}{more}"


def quoted(text: str) -> str:
    """A text of the user's in quotes, cut where it is long."""
    return f"'{text}'" if len(text) <= LONGEST else f"'{text[: LONGEST - 1]}…'"


def described(value: Any) -> str:
    """What a TOML value is, for "…, not the number 5"."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f"the text {quoted(value)}"
    if isinstance(value, int | float):
        return f"the number {value}" if abs(value) < 1e15 or isinstance(value, float) else "a huge number"
    kinds = {dict: "a table", list: "a list", datetime: "a date", date: "a date", time: "a time"}
    return kinds.get(type(value), type(value).__name__)
