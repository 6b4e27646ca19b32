"""Small turns of phrase that all rooms share."""

from __future__ import annotations

import json
import shlex
import unicodedata
from collections.abc import Hashable, Iterable, Sequence
from difflib import get_close_matches
from os import PathLike, fspath
from pathlib import Path
from typing import Final, TypeVar

_Value = TypeVar("_Value", bound=Hashable)
_UNPRINTABLE: Final = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})  # Unicode's categories

ALIKE = 0.7  # of two names, by difflib, that one may be a slip for: our own choice


def clean(text: str) -> str:
    """One line of printable text: blanks run together, other control characters shown as ``\\ufffd``.

    Names and texts come from files of others: an escape sequence in one, or a character that turns the
    direction of writing, must not reach a terminal.
    """
    line = " ".join(text.split())
    if line.isascii() and line.isprintable():
        return line
    return "".join("\ufffd" if unicodedata.category(char) in _UNPRINTABLE else char for char in line)


def escaped(text: str) -> str:
    """The same characters as JSON writes them, ``\\u202e``, for scripts; tabs and ends of lines stay."""
    for char in set(text).difference("\t\n\r"):
        if unicodedata.category(char) in _UNPRINTABLE:
            text = text.replace(char, json.dumps(char)[1:-1])
    return text


def counted(number: int, noun: str, plural: str = "") -> str:
    """``1 need``, ``2,000 needs``; ``plural`` where an s is not enough."""
    return f"{number:,} {noun if number == 1 else plural or noun + 's'}"


def listing(names: Sequence[str], most: int = 0, last: str = "and") -> str:
    """``a, b and c``; with ``most``, no more names than that: ``a, b and 3 more``."""
    shown = list(names)
    if most and len(shown) > most:
        shown = [*shown[:most], f"{len(names) - most} more"]
    if len(shown) < 2:
        return "".join(shown)
    return f"{', '.join(shown[:-1])} {last} {shown[-1]}"


def bit_rate(bitrate: int) -> str:
    """``500 kbit/s``, ``83.3333 kbit/s``."""
    return f"{bitrate / 1000:g} kbit/s"


def bit_rates(bitrate: int, fd_bitrate: int | None) -> str:
    """``500 kbit/s``, or ``500 kbit/s, data phase 2000 kbit/s``."""
    return bit_rate(bitrate) + (f", data phase {bit_rate(fd_bitrate)}" if fd_bitrate else "")


def milliseconds(gap_ns: int | None) -> str:
    """``100 ms``, ``2.5 ms``, ``4.2 s``; a question mark where there is none."""
    if gap_ns is None:
        return "? ms"
    if gap_ns >= 10_000_000_000:
        return f"{gap_ns / 1e9:.0f} s"
    if gap_ns >= 2_000_000_000:
        return f"{gap_ns / 1e9:.1f} s"
    return f"{gap_ns / 1e6:.0f} ms" if gap_ns >= 10_000_000 else f"{gap_ns / 1e6:.1f} ms"


def id_text(can_id: int, is_extended: bool) -> str:
    """An id with as many digits as tell whether it has 11 or 29 bits: ``0x123``, ``0x00000123``."""
    return f"0x{can_id:08X}" if is_extended else f"0x{can_id:03X}"


def spaced(digits: str) -> str:
    """Hex digits as bytes: ``03001F00`` becomes ``03 00 1F 00``."""
    return " ".join(digits[i : i + 2] for i in range(0, len(digits), 2))


def command_line(command: str, *words: str | Path) -> str:
    """``netcheck plan 'my van.job.toml'``: to be pasted, whatever blanks a word has."""
    texts = [word.as_posix() if isinstance(word, Path) else word for word in words]
    return shlex.join(["netcheck", command, *texts])


def path_text(path: str | PathLike[str]) -> str:
    """A path as it stands in a sentence: as it is, in quotes where it has blanks: ``'logs of May/x.log'``."""
    text = fspath(path)
    return f"'{text}'" if any(char.isspace() for char in text) else text


def sentence(text: str) -> str:
    """The text with a full stop, unless it ends with a mark of its own."""
    stripped = text.strip()
    return stripped if not stripped or stripped[-1] in ".!?:…" else stripped + "."


def clause(text: str) -> str:
    """The text without its full stop, to go on after it."""
    stripped = text.strip()
    return stripped[:-1] if stripped.endswith(".") and not stripped.endswith("..") else stripped


def unique(values: Iterable[_Value]) -> tuple[_Value, ...]:
    """Each value once, in the order of its first appearance."""
    return tuple(dict.fromkeys(values))


def meant(wrong: str, names: Iterable[str]) -> str:
    """``did you mean 'plan'?``, or all names where none is like it."""
    known = list(names)
    near = get_close_matches(wrong, known, n=1)
    return f"did you mean '{near[0]}'?" if near else f"it has {', '.join(known)}"


def similar(wrong: str, names: Iterable[str], alike: float = ALIKE) -> tuple[str, ...]:
    """The name that a misspelt one may be meant for; () where none is much like it."""
    return tuple(get_close_matches(wrong, list(names), n=1, cutoff=alike))
