"""Bytes of a TOML file to a table; whatever can go wrong on the way becomes an InputError."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any, Final

from netcheck.errors import InputError
from netcheck.whole_file import read_whole

LARGEST: Final = 4 << 20  # bytes; a file that people write is far smaller


def read_text(path: Path) -> str:
    """The text of a file.

    Raises InputError for a file that is missing, a directory, a device, a pipe, unreadable, empty, far too
    large or not UTF-8.
    """
    try:
        data = read_whole(path, LARGEST)
    except IsADirectoryError as error:
        raise InputError(path, "this is a directory", remedy="give the file itself") from error
    except FileNotFoundError as error:
        raise InputError(path, "no such file", remedy="check the path") from error
    except (OSError, ValueError) as error:  # ValueError: a NUL character in the path
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError(path, f"cannot be read: {reason}") from error
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise InputError(
            path,
            f"byte 0x{data[error.start]:02X} is not UTF-8",
            where=f"line {line}",
            remedy="save it as UTF-8 text",
        ) from error
    if not text.strip():
        raise InputError(path, "the file is empty")
    return text


def parse_toml(path: Path, text: str) -> dict[str, Any]:
    """The table that a text holds. Raises InputError that names the line of a syntax error."""
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        where, what, remedy = _explain(str(error), text)
        if path.suffix.lower() != ".toml":
            remedy = "is this the right file? Its name does not end in .toml"
        raise InputError(path, what, where=where, remedy=remedy) from error
    except RecursionError as error:
        raise InputError(path, "lists or tables are nested too deeply") from error
    except ValueError as error:  # a number of thousands of digits, a date that is none
        raise InputError(path, f"a value cannot be read: {error}") from error


def _explain(message: str, text: str) -> tuple[str, str, str]:
    """Place, fault and remedy of tomllib's message, such as ``Invalid value (at line 3, column 8)``."""
    lines = text.splitlines()
    found = re.fullmatch(
        r"(?P<what>.*) \(at (?:line (?P<line>\d+), column \d+|end of document)\)", message, re.DOTALL
    )
    what = found["what"] if found else message
    number = int(found["line"]) if found and found["line"] else len(lines)
    where = f"line {number}"
    if single_and_double := _one_bracket_and_two(what, lines, number):
        return where, single_and_double, "write every entry of a list with two brackets"
    table = re.fullmatch(r"Cannot (?:declare|redefine namespace) \((?P<names>.*)\)(?: twice)?", what)
    if table:
        name = ".".join(re.findall(r"'([^']*)'", table["names"]))
        return where, f"the table [{name}] is written twice", "combine the two tables"
    if what.startswith(("Cannot overwrite", "Cannot mutate", "Duplicate inline table key")):
        key = re.match(r"\s*(?P<key>[\w.\-]+)\s*=", lines[number - 1])
        inline = re.search(r"table key (?P<key>.+)", what)
        name = inline["key"] if inline else f"'{key['key']}'" if key else ""
        return where, f"the key {name} is written twice" if name else "a key is written twice", "keep one"
    return (
        where,
        f"not valid TOML: {what[:1].lower()}{what[1:]}",
        "texts need quotes, tables need [brackets]",
    )


def _one_bracket_and_two(what: str, lines: list[str], number: int) -> str:
    """That ``[item]`` and ``[[item]]`` stand in one file; "" where it is something else."""
    if not what.startswith(("Cannot overwrite", "Cannot mutate", "Cannot declare")):
        return ""
    here = _header(lines[number - 1])
    for line in lines[: number - 1]:
        above = _header(line)
        if here and above and here != above and here.strip("[]") == above.strip("[]"):
            return f"this line has {here}, a line above has {above}"
    return ""


def _header(line: str) -> str:
    """``[name]`` or ``[[name]]`` of a line that is one; else ""."""
    found = re.match(r"\s*(\[\[[^\[\]]+\]\]|\[[^\[\]]+\])\s*(#|$)", line)
    return found[1].replace(" ", "") if found else ""
