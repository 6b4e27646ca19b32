"""Formats that a file's name tells; what reads them is imported when there is such a file."""

from __future__ import annotations

from typing import Final, NamedTuple


class PythonCanFormat(NamedTuple):
    """How a format is read: python-can's reader, and whether it is text or wants a file of its own."""

    name: str
    reader: str
    text: bool = True
    by_path: bool = False


PYTHON_CAN_FORMATS: Final = {
    ".asc": PythonCanFormat("asc", "ASCReader"),
    ".blf": PythonCanFormat("blf", "", text=False),
    ".mf4": PythonCanFormat("mf4", "MF4Reader", text=False, by_path=True),
    ".trc": PythonCanFormat("trc", "TRCReader"),
}
CSV_SUFFIXES: Final = frozenset({".csv", ".tsv"})
