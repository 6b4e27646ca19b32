"""DBC files of opendbc (MIT) as databases, also those that need a repair before cantools takes them."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import opendbc
from opendbc.dbc.generator.generator import generate_all

from netcheck.database import Database, load_database


@cache
def texts() -> dict[str, str]:
    """DBC texts by name: those in the package and those its generator makes of parts."""
    folder = Path(opendbc.__file__).parent / "dbc"
    return {path.stem: path.read_text(encoding="utf-8") for path in folder.glob("*.dbc")} | generate_all()


def open_database(name: str, folder: Path) -> Database:
    """One of them, loaded from a repaired copy in ``folder``."""
    path = folder / f"{name}.dbc"
    path.write_text(repaired(texts()[name]), encoding="utf-8")
    return load_database(path)


def repaired(text: str) -> str:
    """What keeps cantools from reading some files, put right: nothing that names or places a signal.

    Comments go (some belong to a signal that is not named), 29-bit ids get their flag, ``.25`` becomes
    ``0.25``, a name that begins with a digit gets a ``_``, a missing ``;`` is set, labels of
    signals that do not exist go.
    """
    text = re.sub(r'^CM_ [^"]*"(?:[^"\\]|\\.)*"[ \t]*;?', "", text, flags=re.MULTILINE)
    text = re.sub(r"\(\.(\d)", r"(0.\1", text)
    text = re.sub(r"^(BO_|VAL_) (\d+) ", _with_flag, text, flags=re.MULTILINE)
    text = re.sub(r"^(BO_ \d+ |\s*SG_ )(\d)", r"\1_\2", text, flags=re.MULTILINE)
    text = re.sub(r'^(VAL_ [^;\n]*")[ \t]*$', r"\1 ;", text, flags=re.MULTILINE)
    signals = set()
    message = ""
    for line in text.splitlines():
        if found := re.match(r"BO_ (\d+) ", line):
            message = found[1]
        elif found := re.match(r"\s*SG_ (\w+)", line):
            signals.add((message, found[1]))
    return "\n".join(line for line in text.splitlines() if not _is_idle(line, signals)) + "\n"


def _with_flag(found: re.Match[str]) -> str:
    number = int(found[2])
    return f"{found[1]} {number | 1 << 31 if 0x7FF < number < 1 << 31 else number} "


def _is_idle(line: str, signals: set[tuple[str, str]]) -> bool:
    found = re.match(r"VAL_ (\d+) (\w+)", line)
    return found is not None and (found[1], found[2]) not in signals
