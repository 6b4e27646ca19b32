"""Seeded traffic of the demo: what a script cannot say, on the core of ``netcheck simulate``.

``python -m tests.simulated`` writes the captures in ``sample_logs/`` anew.

The names of the demo's signals say which are kept by themselves: ``…Counter`` goes up by one a frame;
``…Crc``, ``…Xor`` and ``…Sum`` are whole bytes worked out over the others.
"""

from __future__ import annotations

import gzip
from collections.abc import Mapping
from pathlib import Path

from netcheck.bench import Checksum, Scenario
from netcheck.database import Database

CRC8 = Checksum("crc", polynomial=0x1D, start=0xFF, final=0xFF)
CHECKSUMS: Mapping[str, Checksum] = {"Crc": CRC8, "Xor": Checksum("xor"), "Sum": Checksum("sum")}


def scenario_of(database: Database) -> Scenario:
    """A scenario with the counters and checksums that the names tell of."""
    scenario = Scenario()
    for message in database.messages:
        for signal in message.signals:
            key = message.name, signal.name
            if signal.name.endswith("Counter"):
                scenario.counters.add(key)
            if signal.name[-3:] in CHECKSUMS:
                scenario.checksums[key] = CHECKSUMS[signal.name[-3:]]
    return scenario


def write(path: Path, text: str) -> None:
    """Write a log, compressed if its name ends in ``.gz``; no time stamp and no name go into the file."""
    data = text.encode("ascii")
    path.write_bytes(gzip.compress(data, 9, mtime=0) if path.suffix == ".gz" else data)


if __name__ == "__main__":
    from tests.demo.captures import write_all

    write_all()
