"""Changes of bytes, texts and tables, all of them drawn from one ``random.Random``."""

from __future__ import annotations

import random
import re
from collections.abc import Iterator, Sequence
from typing import Any, Final

BYTES: Final = (b"", b"\0", b"\xff", b"\n", b"\r\n", b"\x1b[2J", b"\xe2\x80\xae", b"\xef\xbb\xbf", b" ", b'"')
NUMBERS: Final = (
    "0", "-1", "1", "7", "8", "64", "65", "255", "2047", "2048", "65536", "4294967296", "1e300", "-1e300",
    "1e400", "-1e400", "1e-300", "nan", "inf", "-inf", "0x7FF", "9223372036854775807", "9223372036854775808",
    "0.1", "99999999999999999999",
)  # fmt: skip
VALUES: Final[tuple[Any, ...]] = (
    0, -1, 1, 2, 7, 8, 15, 255, 2048, 65535, 2**31, 2**53, 2**63 - 1, -(2**63), 0.0, 0.1, -0.5, 1e300, -1e300,
    float("inf"), float("nan"), True, False, "", " ", "a", "x" * 300, "ü", "\x1b]52;c;YQ==\x07",
    "\u202etxt.gol", "0x123", "../x", "/", "a\0b", "nan", "active", "inactive", "comfort", "column", [], {},
    [0], [[]], [""], {"a": 1}, [1, 0], "new\nline", "語" * 40, "word " * 60,
)  # fmt: skip


_NUMBER: Final = re.compile(r"[-+]?\d+(?:\.\d+)?")


def mutated_bytes(chance: random.Random, data: bytes, tokens: Sequence[bytes] = BYTES) -> bytes:
    """Bytes with a few changes: cut out, doubled, moved, replaced by a token, flipped."""
    found = bytearray(data)
    for _ in range(chance.choice((1, 1, 2, 3, 8))):
        begin = chance.randrange(len(found) + 1)
        end = min(len(found), begin + chance.choice((0, 1, 2, 4, 16, 100)))
        piece = bytes(found[begin:end])
        kind = chance.randrange(6)
        if kind == 0:
            del found[begin:end]
        elif kind == 1:
            found[begin:begin] = piece * chance.choice((1, 2, 20))
        elif kind == 2:
            found[begin:end] = chance.choice(tokens)
        elif kind == 3:
            found[begin:begin] = chance.choice(tokens)
        elif kind == 4 and begin < len(found):
            found[begin] ^= 1 << chance.randrange(8)
        else:
            del found[begin:end]
            place = chance.randrange(len(found) + 1)
            found[place:place] = piece
    return bytes(found)


def mutated_text(chance: random.Random, text: str, tokens: Sequence[str] = NUMBERS) -> str:
    """A text with a few numbers or words replaced by others of it or by tokens, lines moved or doubled."""
    lines = text.split("\n")
    for _ in range(chance.choice((1, 1, 2, 4))):
        number = chance.randrange(len(lines))
        kind = chance.randrange(7)
        numbers = list(_NUMBER.finditer(lines[number]))
        if kind > 4 and numbers:
            found = chance.choice(numbers)
            piece = chance.choice(NUMBERS)
            lines[number] = lines[number][: found.start()] + piece + lines[number][found.end() :]
        elif kind == 0:
            lines.insert(chance.randrange(len(lines) + 1), lines[number])
        elif kind == 1 and len(lines) > 1:
            del lines[number]
        else:
            words = lines[number].split(" ")
            place = chance.randrange(len(words))
            others = chance.choice(lines).split(" ")
            words[place] = chance.choice(tokens) if kind < 4 else chance.choice(others)
            lines[number] = " ".join(words)
    return "\n".join(lines)


def mutated_table(chance: random.Random, table: dict[str, Any]) -> dict[str, Any]:
    """A TOML table with a few values replaced, left out, doubled, renamed or put elsewhere."""
    found: dict[str, Any] = _copy(table)
    for _ in range(chance.choice((1, 1, 1, 2, 3, 6))):
        places = list(_places(found))
        holder, key = chance.choice(places)
        other, there = chance.choice(places)
        kind = chance.randrange(7)
        if kind == 0:
            del holder[key]
        elif kind == 1 and isinstance(holder, list):
            holder.extend([_copy(holder[key])] * chance.choice((1, 3, 70)))
        elif kind == 2 and isinstance(holder, dict):
            holder[f"{key}{chance.choice(('x', ' ', '.', '-', ''))}"] = holder.pop(key)
        elif kind == 3:
            holder[key] = _copy(other[there])
        else:
            holder[key] = _copy(chance.choice(VALUES))
        if not found:
            break
    return found


def _places(value: Any) -> Iterator[tuple[Any, Any]]:
    """Every table and list with each of its keys."""
    for key in list(value) if isinstance(value, dict) else range(len(value)):
        yield value, key
        if isinstance(value[key], dict | list):
            yield from _places(value[key])


def _copy(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _copy(entry) for key, entry in value.items()}
    return [_copy(entry) for entry in value] if isinstance(value, list) else value


def toml_text(table: dict[str, Any]) -> str:
    """A table as TOML: a line for each key at the top, all below inline."""
    return "".join(f"{_text(str(key))} = {_value(value)}\n" for key, value in table.items())


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float | int):
        return repr(value)
    if isinstance(value, dict):
        return "{" + ", ".join(f"{_text(str(key))} = {_value(entry)}" for key, entry in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_value, value)) + "]"
    return _text(str(value))


def _text(text: str) -> str:
    escaped = "".join(c if c.isprintable() and c not in '"\\' else f"\\U{ord(c):08x}" for c in text)
    return f'"{escaped}"'
