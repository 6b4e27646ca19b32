"""DBC files, and the signals they describe in a capture."""

from netcheck.database._decode import Series, decode
from netcheck.database._extract import Extracted, extract, group_frames, matching, parameter_group
from netcheck.database._load import load_database
from netcheck.database._model import Database, Message, Page, Signal
from netcheck.database._plain import PLAIN_FORMAT, from_plain, to_plain

__all__ = [
    "PLAIN_FORMAT",
    "Database",
    "Extracted",
    "Message",
    "Page",
    "Series",
    "Signal",
    "decode",
    "extract",
    "from_plain",
    "group_frames",
    "load_database",
    "matching",
    "parameter_group",
    "to_plain",
]
