"""Whatever file operation fails, each result is the old file or the new one, whole, and nothing is beside.

Each command runs once without a fault; then again and again, with the first, the second … operation failing.
"""

from __future__ import annotations

import errno
from pathlib import Path

import pytest

from netcheck.cli import main
from tests.bench.vans import put
from tests.cli.jobs import GATEWAY, write_job
from tests.faults import Faults

CAPTURE = '\n[[capture]]\nfile = "x.log"\n'
MARKS = """kind = "marks"
format = 1
[[mark]]
role = "reverse-engaged"
state = "active"
from = 1.0
to = 3.0
"""
LINES = "".join(
    f"({1_500_000_000 + n}.000000) can{n % 2} 123#{n % 3:02X}0000000000000{n % 8}\n" for n in range(9)
)
PRESSED = "".join(
    f"({1_500_000_000 + n / 10:.6f}) can0 123#{(20 <= n < 30 or 50 <= n < 80 or 120 <= n < 128) << 4:02X}\n"
    for n in range(200)
)
COMMANDS = [
    "plan van.job.toml -o out.txt",
    "plan van.job.toml --format json -o out.json",
    "coding van.job.toml -o out.txt",
    "survey x.log --dbc comfort.dbc -o out.txt",
    "survey x.log --dbc comfort.dbc --format json -o out.json",
    "tap van.job.toml --capture x.log --channel can0 -o out.txt",
    "decode x.log --dbc comfort.dbc -o out.txt",
    "decode x.log --dbc comfort.dbc --format csv -o out.csv",
    "decode x.log --dbc comfort.dbc --format json -o out.json",
    "decode x.log --dbc comfort.dbc --format parquet -o out.parquet",
    "trim x.log --force -o out.log",
    "trim x.log --force -o out.log.gz",
    "trim x.log --force -o out.log.xz",
    "trim x.log --force -o out.log.zst",
    "trim x.log --force -o out.asc",
    "trim x.log --force -o out.blf",
    "trim x.log --force -o out.csv",
    "trim x.log --force -o out.trc",
    "trim x.log --force --split -o out.log",
    "find pressed.log --role reverse-engaged --at 2-3 --at 5-8 --at 12-12.8 --draft out.dbc",
    "report van.job.toml --force -o out.html",
    "report --survey x.log --dbc comfort.dbc --force -o out.html",
    "report --find pressed.log --role reverse-engaged --at 2-3 --at 5-8 --force -o out.html",
    "simulate gull.vehicle.toml --script s.script.toml -o out.log",
    "simulate gull.vehicle.toml --script s.script.toml -o out.log.gz",
]
OLD = b"from yesterday"


def fill(folder: Path) -> None:
    put(folder, seconds=12.0)
    write_job(folder, CAPTURE + GATEWAY)
    (folder / "x.log").write_text(LINES)
    (folder / "pressed.log").write_text(PRESSED)
    (folder / "x.marks.toml").write_text(MARKS)


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


@pytest.mark.parametrize(
    ("command", "has_old", "number"),
    [
        pytest.param(command, has_old, number, id=f"{command}-{name}")
        for command in COMMANDS
        for has_old, number, name in ((False, errno.ENOSPC, "new"), (True, errno.EIO, "replaced"))
        if not (has_old and "--draft" in command)  # a draft is extended, never replaced
    ],
)
def test_one_operation_after_the_other_fails(
    command: str, has_old: bool, number: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    inputs = tmp_path / "inputs"
    inputs.mkdir()
    fill(inputs)
    before = contents(inputs)

    def run(call: int) -> tuple[int, Faults, dict[str, bytes]]:
        folder = tmp_path / str(call)
        folder.mkdir()
        for name, data in before.items():
            (folder / name).write_bytes(data)
        with monkeypatch.context() as patch:
            patch.chdir(folder)
            faults = Faults(folder, call, number)
            faults.install(patch)
            status = main(command.split())
        return status, faults, contents(folder)

    fine, faults, results = run(0)
    assert fine != 2
    new = {name: data for name, data in results.items() if name not in before}
    assert new
    if has_old:
        before |= dict.fromkeys(new, OLD)
    capsys.readouterr()
    assert {"open", "write", "close", "rename"} <= set(faults.seen)
    for call in range(1, len(faults.seen) + (len(new) if has_old else 0) + 1):
        status, met, found = run(call)
        said = capsys.readouterr().err
        where = f"{met.seen[-1]} number {call}"
        assert status == 2, where
        assert said.startswith("netcheck: "), where
        assert said.count("\n") == 1, where
        assert "fault of netcheck" not in said, where
        assert found.keys() <= before.keys() | new.keys(), where
        assert found.keys() >= before.keys(), where
        for name, data in found.items():
            assert data in (before.get(name), new.get(name)), f"{name} after {where}"
        is_new = {name: found.get(name) == new[name] for name in new}
        assert not any(is_new.values()), f"{is_new} after {where}"
