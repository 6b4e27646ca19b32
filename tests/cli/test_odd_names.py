"""File names that are too long or no UTF-8, channel names as long as they may be: one line, or it works."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest

from netcheck.cli import main
from tests.cli.jobs import DBC, GATEWAY, JOB, VEHICLE, write_job

LINE = "(1436509052.249713) can0 123#0000000000000000\n"
SCRIPT = 'kind = "script"\nformat = 1\nseconds = 0.1\n'
VEHICLE_AND = ["--vehicle", "skerry.vehicle.toml", "--network", "comfort"]
PLACES = {
    "job": ["plan", "{}"],
    "vehicle": ["plan", "--vehicle", "{}", "--retrofit", "dash-camera", "--network", "comfort"],
    "retrofit": ["plan", *VEHICLE_AND, "--retrofit", "{}.retrofit.toml"],
    "capture": ["plan", *VEHICLE_AND, "--retrofit", "dash-camera", "--capture", "{}"],
    "plan-output": ["plan", "van.job.toml", "-o", "{}"],
    "dbc": ["decode", "a.log", "--dbc", "{}"],
    "decode-output": ["decode", "a.log", "--dbc", "comfort.dbc", "-o", "{}"],
    "survey": ["survey", "{}"],
    "survey-dbc": ["survey", "a.log", "--dbc", "{}"],
    "survey-output": ["survey", "a.log", "-o", "{}"],
    "readback": ["coding", "van.job.toml", "--readback", "{}"],
    "coding-output": ["coding", "van.job.toml", "-o", "{}"],
    "trim": ["trim", "{}", "-o", "new.log"],
    "trim-output": ["trim", "a.log", "-o", "{}.log"],
    "script": ["simulate", "skerry.vehicle.toml", "--script", "{}"],
    "simulate-output": ["simulate", "skerry.vehicle.toml", "--script", "s.script.toml", "-o", "{}.log"],
    "tap": ["tap", "{}"],
    "replay": ["replay", "{}", "--interface", "virtual", "--channel", "x"],
}


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    write_job(tmp_path, GATEWAY)
    (tmp_path / "a.log").write_text(LINE)
    (tmp_path / "s.script.toml").write_text(SCRIPT)
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize("place", PLACES)
def test_a_name_that_no_file_can_have(folder: Path, capsys: pytest.CaptureFixture[str], place: str):
    before = set(folder.iterdir())
    assert main([argument.format("n" * 300) for argument in PLACES[place]]) == 2
    out, err = capsys.readouterr()
    assert (out, err.count("\n")) == ("", 1)
    assert "n" * 300 in err
    assert set(folder.iterdir()) == before


@pytest.mark.parametrize("name", ["n" * 247 + ".csv", "ü" * 123 + ".csv"])
def test_a_name_as_long_as_it_may_be_is_written(folder: Path, name: str):
    for _ in range(2):
        assert main(["decode", "a.log", "--dbc", "comfort.dbc", "--format", "csv", "-o", name]) == 0
        assert (folder / name).read_text().startswith("time,")
        assert not list(folder.glob(".*"))


def test_channels_of_64_bytes_in_a_capture_with_a_long_name(folder: Path, capsys: pytest.CaptureFixture[str]):
    log = "n" * 200 + ".log"
    names = ["c" * 64, "c" * 63 + "d"]
    (folder / log).write_text("".join(LINE.replace("can0", name) for name in names))
    assert main(["survey", log]) == 0
    assert main(["decode", log, "--dbc", "comfort.dbc"]) == 0
    capsys.readouterr()
    before = set(folder.iterdir())
    assert main(["trim", log, "--split", "-o", log.replace("n", "m")]) == 2
    assert capsys.readouterr().err.count("\n") == 1
    assert set(folder.iterdir()) == before
    assert main(["trim", log, "--split", "-o", "s.log"]) == 0
    assert [(folder / f"s.{name}.log").read_text().split()[1] for name in names] == names


@pytest.mark.skipif(os.name != "posix", reason="names are text here")
def test_names_that_are_not_utf_8(folder: Path, capsys: pytest.CaptureFixture[str]):
    """They are read and written; where they are printed, the odd bytes are escapes or question marks."""
    files = {"x\udcff.log": LINE, "x\udcff.dbc": DBC, "x\udcff.job.toml": JOB + GATEWAY}
    for name, text in files.items():
        (folder / name).write_text(text)
    (folder / "s\udcff.vehicle.toml").write_text(VEHICLE.replace("comfort.dbc", "comfort.dbc"))
    for arguments, status in [
        (["decode", "x\udcff.log", "--dbc", "x\udcff.dbc"], 0),
        (["decode", "x\udcff.log", "--dbc", "x\udcff.dbc", "--format", "json", "-o", "o\udcff"], 0),
        (["survey", "x\udcff.log", "--dbc", "x\udcff.dbc"], 0),
        (["survey", "x\udcff.log", "--format", "json"], 0),
        (["plan", "x\udcff.job.toml"], 3),
        (["plan", "x\udcff.job.toml", "--format", "json"], 3),
        (["coding", "x\udcff.job.toml", "-o", "c\udcff"], 3),
        (["trim", "x\udcff.log", "-o", "t\udcff.log"], 0),
        (["simulate", "s\udcff.vehicle.toml", "--script", "s.script.toml", "-o", "m\udcff.log"], 0),
    ]:
        assert main(arguments) == status, arguments
        out, err = capsys.readouterr()
        (out + err).encode("utf-8")
    assert {"o\udcff", "c\udcff", "t\udcff.log", "m\udcff.log"} <= {path.name for path in folder.iterdir()}
    (folder / "x\udcff.dbc").write_text("BO_ 1 x")
    assert main(["decode", "x\udcff.log", "--dbc", "x\udcff.dbc"]) == 2
    assert re.fullmatch(r"netcheck: x\\xff\.dbc: .*\n", capsys.readouterr().err)


def test_times_before_1970_name_their_file(folder: Path, capsys: pytest.CaptureFixture[str]):
    (folder / "early.csv").write_text("Time (s),ID hex,Data hex\n-100.0,123,11\n-99.9,123,11\n")
    assert main(["trim", "early.csv", "-o", "new.csv"]) == 0
    capsys.readouterr()
    assert main(["trim", "early.csv", "-o", "new.log"]) == 2
    err = capsys.readouterr().err
    assert err == (
        "netcheck: new.log: a candump log has no place for frames before the year 1970 – "
        "give --shift SECONDS to move all times forward, or name it .csv or .asc\n"
    )
    assert main(["trim", "early.csv", "--shift", "200", "-o", "new.log"]) == 0
    (folder / "b.log").write_text("(1.5) can0 123#00\n")
    capsys.readouterr()
    assert main(["trim", "a.log", "b.log", "--shift", "-2", "-o", "c.log"]) == 2
    assert capsys.readouterr().err.startswith("netcheck: b.log: shifted by -2 s, frames would lie before")
    (folder / "late.log").write_text("(8000000000.0) can0 123#00\n")
    assert main(["trim", "late.log", "a.log", "--shift", "4e9", "-o", "c.log"]) == 2
    assert capsys.readouterr().err.startswith(
        "netcheck: late.log: shifted by 4e+09 s, frames would lie after"
    )
    assert not (folder / "c.log").exists()
