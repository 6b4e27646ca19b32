"""What is measured: netcheck on one side, a script on other libraries on the other."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import cantools
import numpy as np
import pandas as pd
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


def find_with_pandas(log: Path, spans: Sequence[tuple[float, float]]) -> list[tuple[float, str, str, int]]:
    """Bits that follow times, the best first: correlation over a lag of 0.8 s, channel, id and number."""
    table = pd.read_csv(log, sep=" ", header=None, names=["stamp", "channel", "frame"], dtype=str)
    stamps = table["stamp"].str.strip("()").astype(float).to_numpy()
    time = stamps - stamps[0]
    table[["id", "data"]] = table["frame"].str.split("#", n=1, expand=True)
    found = []
    for (channel, can_id), group in table.groupby(["channel", "id"], sort=True):
        texts = group["data"]
        own = time[group.index.to_numpy()]
        size = texts.str.len().mode()[0] // 2
        keep = (texts.str.len() == 2 * size).to_numpy()
        payload = np.frombuffer(bytes.fromhex("".join(texts[keep])), np.uint8).reshape(-1, size)
        bits = np.unpackbits(payload, axis=1, bitorder="little")
        moving = np.flatnonzero(np.ptp(bits, axis=0))
        columns = bits[:, moving].astype(np.float32)
        columns = (columns - columns.mean(axis=0)) / columns.std(axis=0)
        best = np.zeros(len(moving))
        for lag in np.arange(-0.8, 0.81, 0.1):
            marked = np.zeros(len(payload), np.float32)
            for begin, end in spans:
                marked[(own[keep] >= begin + lag) & (own[keep] < end + lag)] = 1
            if marked.std():
                marked = (marked - marked.mean()) / marked.std()
                best = np.maximum(best, np.abs(marked @ columns) / len(payload))
        found += [
            (float(share), str(channel), str(can_id), int(bit))
            for share, bit in zip(best, moving, strict=True)
        ]
    return sorted(found, reverse=True)


def load_with_cantools(dbc: Path) -> Any:
    """A DBC as cantools has it, with the faults that real ones have."""
    return cantools.database.load_file(dbc, strict=False)


def decode_with_netcheck(log: Path, database: netcheck.Database) -> Mapping[Any, netcheck.Series]:
    """Every frame read, every signal decoded to columns."""
    return netcheck.decode(netcheck.read_capture(log), database)


def values_of(series: Mapping[Any, netcheck.Series]) -> int:
    """How many values there are."""
    return sum(map(len, series.values()))
