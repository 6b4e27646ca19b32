"""What the header of a CSV file leaves open, from its first rows: only what they leave no doubt of."""

from __future__ import annotations

import re
from base64 import b64decode
from collections.abc import Mapping, Sequence
from itertools import pairwise
from statistics import median
from typing import Final

from netcheck.capture._csv_columns import UNITS, CsvHeader

_LEAST_IDS: Final = 5  # that came three times or more: fewer do not tell a unit
_PERIOD_S: Final = (0.004, 3.0)  # of the middle one of a vehicle's messages; less than a factor of 1000
_LEAST_STEP_S: Final = 20e-6  # of the middle step: no bus is faster
_BETWEEN: Final = re.compile(r"[\s:.,_-]+")
_DIGITS: Final = "0123456789"


class Open(Exception):  # noqa: N818 - a question to the caller
    """What cannot be told, and how to say it."""

    def __init__(self, what: str, remedy: str) -> None:
        self.what = what
        self.remedy = remedy
        super().__init__(what)


class Guess:
    """How the values of a file are meant: by the caller's hints, its header, or its first rows.

    unit: a key of ``UNITS``; id_base: 16 or 10; data_base: 16, 10 or 64 (base64)
    said: what a person should know of it

    Raises Open for what none of the three tells.
    """

    def __init__(self, header: CsvHeader, hints: Mapping[str, str], rows: Sequence[Sequence[str]]) -> None:
        self.said: list[str] = []
        self._header = header
        self._rows = rows
        self.id_base = self._base("id", hints, header.id_base) or self._id_base()
        self.data_base = self._base("data", hints, header.data_base) or self._data_base()
        self.unit = hints.get("time") or header.unit or self._unit()

    @staticmethod
    def _base(key: str, hints: Mapping[str, str], said: str) -> int:
        return {"hex": 16, "dec": 10}.get(hints.get(key) or said, 0)

    def _cells(self, place: int) -> list[str]:
        return [row[place].strip() for row in self._rows if place < len(row)]

    def _id_base(self) -> int:
        ids = [text.lower() for text in self._cells(self._header.places["id"]) if text]
        digits = [text.removesuffix("x") for text in ids]
        if self._header.is_base64 or not ids:
            return 16
        if any(text.startswith("0x") or not set(text) <= set(_DIGITS) for text in digits):
            return 16
        if any(text.startswith("0") and len(text) > 1 for text in digits) and len(set(map(len, digits))) <= 2:
            return 16  # filled up to three or eight digits
        raise Open("its header does not say whether ids are hexadecimal or decimal", _how("id=hex or id=dec"))

    def _data_base(self) -> int:
        header = self._header
        if header.is_base64:
            if self._fitting(64) >= self._fitting(16):
                return 64
            self.said.append("data are taken as hex digits: as base64 they do not fit their length")
            return 16
        return self._base_of_words()

    def _base_of_words(self) -> int:
        header = self._header
        places = header.bytes_at or (header.places["data"],)
        texts = [text for place in places for text in self._cells(place) if text]
        words = [word.lower() for text in texts for word in _BETWEEN.split(text) if word]
        if not words:
            return 16
        is_hex = all(set(word.removeprefix("0x")) <= set(_DIGITS + "abcdef") for word in words)
        if not is_hex and "length" in header.places and self._fitting(64) > len(self._rows) // 2:
            self.said.append("data are taken as base64, by their length")
            return 64
        if any(not set(word) <= set(_DIGITS) or len(word) > 3 for word in words):
            return 16
        if any(len(word) == 3 for word in words):
            return 10
        if all(len(word) == 2 for word in words) and any(word.startswith("0") for word in words):
            return 16
        raise Open(
            "its header does not say whether data are hexadecimal or decimal", _how("data=hex or data=dec")
        )

    def _fitting(self, base: int) -> int:
        """Rows whose data, read so, are as long as they say."""
        fits = 0
        for row in self._rows:
            try:
                said, text = int(row[self._header.places["length"]]), row[self._header.places["data"]].strip()
                data = b64decode(text, validate=True) if base == 64 else bytes.fromhex(_BETWEEN.sub("", text))
            except (ValueError, IndexError):
                continue
            fits += len(data) == said
        return fits

    def _unit(self) -> str:
        if self._header.is_base64 or "time" not in self._header.places:
            return "s"
        unit = _unit_by_steps(self._times())
        if not unit:
            raise Open("its header does not say the unit of the time", _how("time=s, time=ms or time=us"))
        self.said.append(f"times are taken as {unit.replace('us', 'µs')}, by their steps")
        return unit

    def _times(self) -> list[tuple[float, str]]:
        """(time, id) of the rows that have both."""
        found = []
        for row in self._rows:
            try:
                time = float(row[self._header.places["time"]].strip().replace(",", "."))
                found.append((time, row[self._header.places["id"]].strip().lower()))
            except (ValueError, IndexError):
                continue
        return found


def _how(choices: str) -> str:
    return f"tell it with --csv {choices}; netcheck trim then makes a log of it, which every command reads"


def _unit_by_steps(rows: list[tuple[float, str]]) -> str:
    """The unit in which the messages come as often as those of a vehicle do; "" where that does not tell."""
    steps = [after - before for (before, _), (after, _) in pairwise(rows) if after > before]
    times: dict[str, list[float]] = {}
    for time, name in rows:
        times.setdefault(name, []).append(time)
    periods = [(own[-1] - own[0]) / (len(own) - 1) for own in times.values() if len(own) > 2]
    if len(periods) < _LEAST_IDS or not steps:
        return ""
    low, high = _PERIOD_S
    fitting = [
        unit
        for unit, size in UNITS.items()
        if low <= median(periods) * size / 1e9 <= high and median(steps) * size / 1e9 >= _LEAST_STEP_S
    ]
    return fitting[0] if len(fitting) == 1 else ""
