"""A fleet of the demo's van: 60 short simulated captures of three model years, in an archive.

The clutch switch went from the body controller to the engine control in 2019: before, the drive network has
its message, and the signal stays at rest.
"""

from __future__ import annotations

import contextlib
import tempfile
from functools import cache
from pathlib import Path

from netcheck.archive import Adder, CaptureFacts, find_captures, open_store
from netcheck.bench import candump_lines, seen_from, set_up
from netcheck.edit import marks_text
from netcheck.files import Script, load_vehicle

ROOT = Path(__file__).parent.parent.parent
VEHICLE = ROOT / "dbc" / "skerry_240.vehicle.toml"
DRAFT = ROOT / "sample_logs" / "skerry_clutch_draft.vehicle.toml"
YEARS = (2018, 2019, 2020)
VANS = 20  # of each year
SECONDS = 1.6
_FOLDERS: list[tempfile.TemporaryDirectory[str]] = []  # which go when the process ends


def make_fleet(folder: Path, vans: int = VANS) -> None:
    """``2018/van00.log`` and so on, each with its marks: somebody presses the clutch for a second."""
    loaded = load_vehicle(VEHICLE)
    for year in YEARS:
        (folder / str(year)).mkdir(parents=True)
        for number in range(vans):
            script = Script.model_validate(
                {
                    "kind": "script",
                    "format": 1,
                    "seconds": SECONDS,
                    "seed": 100 * year + number,
                    "set": [
                        {"role": "terminal-15", "state": "active"},
                        {"role": "clutch-pedal", "at": 0.4, "state": "active"},
                        {"role": "clutch-pedal", "at": 1.4, "state": "inactive"},
                    ],
                },
                context={"file": True},
            )
            bench = set_up(loaded, script, VEHICLE, year=year, networks=("comfort", "drive"))
            frames = list(bench.frames())
            log = folder / str(year) / f"van{number:02d}.log"
            log.write_text("".join(candump_lines(frames)))
            marks = seen_from(bench.marks, frames[0].time_us / 1e6, frames[-1].time_us / 1e6)
            log.with_suffix(".marks.toml").write_text(marks_text(marks))


def vin(year: int, number: int) -> str:
    """An invented number: no maker has its beginning."""
    return f"9SK24{year}{number:08d}"


def add_fleet(folder: Path, store: Path) -> None:
    """All captures of a fleet, each of a van of its own, read with the draft as it should be.

    Two roles instead of a hundred take a third of the time.
    """
    opened = open_store(store, create=True)
    vehicle = folder / "skerry_clutch.vehicle.toml"
    right = DRAFT.read_text().replace("[2018, 2022]", "[2019, 2022]")
    vehicle.write_text(right.replace("../dbc", (ROOT / "dbc").as_posix()))
    with contextlib.chdir(folder.parent):
        captures = [
            capture
            for year in YEARS
            for number, log in enumerate(sorted(Path(folder.name, str(year)).glob("*.log")))
            for capture in find_captures([str(log)], CaptureFacts(vehicle, year, vin(year, number))).captures
        ]
        added = Adder(opened).add(captures)
    assert not added.refused


@cache
def fleet_archive() -> Path:
    """The archive of the whole fleet, made once in a process."""
    folder = tempfile.TemporaryDirectory(prefix="netcheck-fleet-")
    _FOLDERS.append(folder)
    make_fleet(Path(folder.name) / "fleet")
    add_fleet(Path(folder.name) / "fleet", Path(folder.name) / "archive")
    return Path(folder.name) / "archive"
