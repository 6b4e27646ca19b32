"""What the words of a name mean: names of signals, messages and labels to concepts, in several languages.

Names in DBC files are made of shortened words of English, German, French, Spanish or Italian, written
together or apart: ``VehSpdAvgDrvn``, ``BREMSE_BETAETIGT``, ``kl_15``. A *concept* is the meaning of such a
word, written as an English word. The tables are general knowledge of the trade and of the languages.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

from netcheck.files import parse_toml, read_text

_FILE: Final = Path(__file__).with_name("words.toml")
_PIECES: Final = re.compile(r"[A-Z]+(?=[A-Z][a-z])|[A-Z]?[a-z]+|[A-Z]+|\d+")
_LEAST_PART: Final = 3  # letters of a word inside a longer one
_ENDINGS: Final = frozenset({"sw", "on", "up", "st", "dn", "in"})


@cache
def _tables() -> dict[str, Any]:
    return parse_toml(_FILE, read_text(_FILE))


def _by_word(table: Mapping[str, Sequence[str]]) -> Mapping[str, frozenset[str]]:
    found: dict[str, set[str]] = {}
    for concept, words in table.items():
        for word in words:
            found.setdefault(word, set()).add(concept)
    return MappingProxyType({word: frozenset(concepts) for word, concepts in found.items()})


@cache
def words_of() -> Mapping[str, frozenset[str]]:
    """Word, in small letters -> the concepts it may mean."""
    return _by_word(_tables()["meaning"])


@cache
def other_words() -> Mapping[str, frozenset[str]]:
    """Word, in small letters -> what it says the signal is instead."""
    return _by_word(_tables()["other"])


@cache
def neutral_words() -> frozenset[str]:
    """Words that leave the meaning of a name as it is."""
    return frozenset(_tables()["neutral"])


@cache
def unitless() -> frozenset[str]:
    """What stands for "no unit" where a unit could be, in small letters."""
    return frozenset(_tables()["no_unit"])


@cache
def no_value_labels() -> frozenset[str]:
    """Labels that say that there is no value, in small letters."""
    return frozenset(_tables()["no_value"])


@cache
def name_words(name: str) -> tuple[str, ...]:
    """The words of a name in small letters: ``VehSpdAvg_15`` is veh, spd, avg, 15; ``KL_15`` is kl15."""
    plain = name
    for letter, two in (
        ("ä", "ae"),
        ("ö", "oe"),
        ("ü", "ue"),
        ("ß", "ss"),
        ("Ä", "Ae"),
        ("Ö", "Oe"),
        ("Ü", "Ue"),
    ):
        plain = plain.replace(letter, two)
    plain = unicodedata.normalize("NFKD", plain).encode("ascii", "ignore").decode()
    found: list[str] = []
    for part in re.split(r"[^A-Za-z0-9]+", plain):
        if part.lower() in words_of() or part.lower() in other_words():
            found.append(part.lower())
            continue
        for piece in _PIECES.findall(part):
            found += _apart(piece.lower())
    return tuple(_joined(found))


def _joined(words: Iterable[str]) -> Iterable[str]:
    """Words that mean something only with the next one: ``kl`` and ``15``, ``hand`` and ``brake``."""
    waiting = ""
    for word in words:
        both = waiting + word
        if waiting and both in words_of() and (word.isdigit() or len(word) == 1 or len(both) > 6):
            yield both
            waiting = ""
            continue
        if waiting:
            yield waiting
        waiting = word
    if waiting:
        yield waiting


def _apart(word: str) -> list[str]:
    """A word that no table knows, as the known words that it is made of; itself if it is not."""
    if _is_known(word):
        return [word]
    best: list[list[str] | None] = [[]] + [None] * len(word)
    for end in range(1, len(word) + 1):
        for start in range(end):
            before, part = best[start], word[start:end]
            is_word = _is_known(part) and (
                len(part) >= _LEAST_PART or (part in _ENDINGS and end == len(word))
            )
            if (
                before is not None
                and is_word
                and (best[end] is None or len(before) + 1 < len(best[end] or ()))
            ):
                best[end] = [*before, part]
    return best[-1] or [word]


def _is_known(word: str) -> bool:
    return word in words_of() or word in other_words()
