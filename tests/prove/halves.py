"""A recording cut in two halves, as if the one were from before a fitting and the other from after it."""

from __future__ import annotations

import gzip
import lzma
from collections.abc import Mapping
from pathlib import Path

from netcheck.catalogue import load_job
from netcheck.files import LoadedJob

_OPEN = {".gz": gzip.open, ".xz": lzma.open}


def halved_job(folder: Path, log: Path, networks: Mapping[str, str]) -> LoadedJob:
    """A job with both halves of a candump log. networks: name -> text of the DBC."""
    with _OPEN.get(log.suffix, open)(log, "rt", encoding="ascii") as file:
        lines = [line for line in file if line.startswith("(")]
    middle = len(lines) // 2
    for name, part in (("before.log", lines[:middle]), ("after.log", lines[middle:])):
        (folder / name).write_text("".join(part), encoding="ascii")
    vehicle = 'kind = "vehicle"\nformat = 1\nname = "a real one"\nmodel_years = [2016, 2016]\n'
    for name, text in networks.items():
        (folder / f"{name}.dbc").write_text(text, encoding="utf-8")
        vehicle += f'[network.{name}]\nbitrate = 500_000\ndbc = "{name}.dbc"\n'
    (folder / "van.vehicle.toml").write_text(vehicle, encoding="utf-8")
    (folder / "part.retrofit.toml").write_text(
        'kind = "retrofit"\nformat = 1\nname = "part"\n', encoding="utf-8"
    )
    (folder / "van.job.toml").write_text(
        'kind = "job"\nformat = 1\nvehicle = "van.vehicle.toml"\nmodel_year = 2016\n'
        '[[item]]\nretrofit = "part.retrofit.toml"\n[[capture]]\nfile = "before.log"\n'
        '[[capture]]\nfile = "after.log"\nwhen = "after"\n',
        encoding="utf-8",
    )
    return load_job(folder / "van.job.toml")
