"""DBC files, and the signals they describe in a capture."""

from netcheck.database._decode import Series, decode
from netcheck.database._extract import (
    Extracted,
    PayloadBytes,
    as_value,
    extract,
    extract_all,
    group_frames,
    is_message,
    matching,
    parameter_group,
    split_rows,
)
from netcheck.database._load import load_database
from netcheck.database._model import Database, DbcRepair, Message, MuxPage, RepairKind, Signal
from netcheck.database._plain import PLAIN_FORMAT, from_plain, to_plain
from netcheck.database._write import SignalAddition, extended_dbc

__all__ = [
    "PLAIN_FORMAT",
    "Database",
    "DbcRepair",
    "Extracted",
    "Message",
    "MuxPage",
    "PayloadBytes",
    "RepairKind",
    "Series",
    "Signal",
    "SignalAddition",
    "as_value",
    "decode",
    "extended_dbc",
    "extract",
    "extract_all",
    "from_plain",
    "group_frames",
    "is_message",
    "load_database",
    "matching",
    "parameter_group",
    "split_rows",
    "to_plain",
]
