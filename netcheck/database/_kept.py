"""Layouts kept in the user's cache folder, so that a DBC file is parsed once; see ``netcheck.cache``."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Final

from netcheck import __version__
from netcheck.cache import installed, key_of, read_entry, write_entry
from netcheck.database._model import Database, DbcRepair, Message
from netcheck.database._plain import PLAIN_FORMAT, from_plain, to_plain
from netcheck.records import dataclass

KIND: Final = "layouts"
_FORMAT: Final = 1  # of what is kept beside the plain values
_LOADER: Final = ("_bounds.py", "_cut_off.py", "_load.py", "_repair.py", "_text.py")


@dataclass(frozen=True)
class Loaded:
    """One DBC file. complaints: what had to be overlooked; repairs: what was put right."""

    messages: tuple[Message, ...]
    complaints: tuple[str, ...]
    repairs: tuple[DbcRepair, ...] = ()


def read_layout(content: bytes, path: str) -> Loaded | None:
    """What was kept of a DBC file with this content, as if it were read from ``path``."""
    body = read_entry(KIND, _key(content))
    if body is None:
        return None
    try:
        plain = json.loads(body)
        for named in (*plain["messages"], *plain["repairs"]):
            named["file"] = path
        database = from_plain(plain)
    except (ValueError, KeyError, TypeError):
        return None
    return Loaded(database.messages, database.warnings, database.repairs)


def keep_layout(content: bytes, loaded: Loaded) -> None:
    """Keep what a file of this content holds. Its path is no part of that."""
    plain = to_plain(Database((), loaded.messages, loaded.complaints, loaded.repairs))
    for named in (*plain["messages"], *plain["repairs"]):
        named["file"] = ""
    body = json.dumps(plain, ensure_ascii=False, separators=(",", ":"))
    write_entry(KIND, _key(content), body.encode("utf-8", "surrogatepass"))


def _key(content: bytes) -> str:
    return key_of(f"{_FORMAT} {PLAIN_FORMAT} {__version__} {installed('cantools')}", _reader(), content)


@cache
def _reader() -> bytes:
    """The source of the loader: a changed one may read a file in another way."""
    try:
        return b"".join(Path(__file__).with_name(name).read_bytes() for name in _LOADER)
    except OSError:  # not installed as files
        return b""
