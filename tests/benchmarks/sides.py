"""What is measured: netcheck on one side, a script on python-can and cantools on the other."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import cantools
from can.io.canutils import CanutilsLogReader

import netcheck


def read_with_python_can(log: Path) -> int:
    """Every frame read and dropped; gives their number."""
    frames = 0
    with CanutilsLogReader(log) as reader:
        for _ in reader:
            frames += 1
    return frames


def decode_with_cantools(log: Path, database: Any) -> int:
    """Every frame read, decoded and dropped; gives the number of values."""
    values = 0
    with CanutilsLogReader(log) as reader:
        for message in reader:
            decoded = database.decode_message(message.arbitration_id, message.data, decode_choices=False)
            values += len(decoded)
    return values


def load_with_cantools(dbc: Path) -> Any:
    """A DBC as cantools has it, with the faults that real ones have."""
    return cantools.database.load_file(dbc, strict=False)


def decode_with_netcheck(log: Path, database: netcheck.Database) -> Mapping[Any, netcheck.Series]:
    """Every frame read, every signal decoded to columns."""
    return netcheck.decode(netcheck.read_capture(log), database)


def values_of(series: Mapping[Any, netcheck.Series]) -> int:
    """How many values there are."""
    return sum(map(len, series.values()))
