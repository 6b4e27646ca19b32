"""A small invented fleet: captures of a Gull 3 of three model years, made once for all tests."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from netcheck.archive import Added, Adder, CaptureFacts, Store, find_captures, open_store
from netcheck.bench import candump_lines, load_bench, seen_from
from netcheck.edit import marks_text
from tests.bench.vans import put, script_text

BODY = """
[[set]]
role = "vehicle-speed"
value = 0.0
[[set]]
role = "reverse-engaged"
at = 1.5
state = "active"
[[set]]
role = "reverse-engaged"
at = 3.5
state = "inactive"
"""
STILL = """
[[set]]
role = "vehicle-speed"
value = 0.0
"""
VINS = ("9GULL300000000001", "9GULL300000000002", "9GULL300000000003")


def make(
    folder: Path,
    name: str,
    *,
    year: int = 2021,
    seed: int = 1,
    body: str = BODY,
    networks: Sequence[str] = (),
) -> Path:
    """A simulated capture with its marks beside it."""
    if not (folder / "gull.vehicle.toml").exists():
        put(folder)
    (folder / "s.script.toml").write_text(script_text(body, 5.0, seed), "utf-8")
    bench = load_bench(folder / "gull.vehicle.toml", folder / "s.script.toml", year=year, networks=networks)
    frames = list(bench.frames())
    target = folder / name
    target.parent.mkdir(parents=True, exist_ok=True)
    target.write_text("".join(candump_lines(frames)))
    marks = seen_from(bench.marks, frames[0].time_us / 1e6, frames[-1].time_us / 1e6)
    (target.parent / f"{target.stem}.marks.toml").write_text(marks_text(marks))
    return target


def fill(folder: Path) -> Path:
    """Two captures of each model year in folders of their own; in 2019 nobody touches the lever."""
    for year in (2019, 2020, 2021):
        for number in (1, 2):
            body = STILL if year == 2019 else BODY
            make(folder, f"{year}/{number}.log", year=year, seed=10 * year + number, body=body)
    return folder / "gull.vehicle.toml"


def add_fleet(store: Store, folder: Path, *, frames: bool = False) -> list[Added]:
    """All of them, year by year; the two of a year are of one van."""
    found = []
    for year, vin in zip((2019, 2020, 2021), VINS, strict=True):
        known = CaptureFacts(folder / "gull.vehicle.toml", year, vin)
        wanted = find_captures([str(folder / str(year))], known).captures
        found.append(Adder(store, frames=frames).add(wanted))
    return found


def new_store(folder: Path) -> Store:
    """An empty store."""
    return open_store(folder, create=True)
