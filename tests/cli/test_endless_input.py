"""Input without an end, or that says it has none, wherever a file is named: one line, exit status 2."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from netcheck.cli import main
from netcheck.files import side_file
from tests.cli.jobs import GATEWAY, write_job

LINE = "(1436509052.249713) can0 123#0000000000000000\n"
SCRIPT = 'kind = "script"\nformat = 1\nseconds = {}\n'
MARKS = (
    'kind = "marks"\nformat = 1\n[[mark]]\nrole = "reverse-engaged"\nstate = "active"\nfrom = {}\nto = {}\n'
)
PLACES = {
    "job": ["plan", "{}"],
    "vehicle": ["plan", "--vehicle", "{}", "--retrofit", "dash-camera", "--network", "comfort"],
    "retrofit": ["plan", "--vehicle", "skerry.vehicle.toml", "--retrofit", "{}", "--network", "comfort"],
    "dbc": ["decode", "a.log", "--dbc", "{}"],
    "dbc-of-survey": ["survey", "a.log", "--dbc", "{}"],
    "dbc-of-vehicle": ["survey", "a.log", "--vehicle", "odd.vehicle.toml"],
    "readback": ["coding", "van.job.toml", "--readback", "{}"],
    "script": ["simulate", "skerry.vehicle.toml", "--script", "{}"],
    "marks": ["trim", "marked.log", "-o", "new.log"],
}


def run(folder: Path, arguments: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    """The one line that a command with status 2 says."""
    before = {path.name for path in folder.iterdir()}
    assert main(arguments) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("netcheck: ")
    assert err.count("\n") == 1
    assert "fault of netcheck" not in err
    assert {path.name for path in folder.iterdir()} == before
    return err


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    write_job(tmp_path, GATEWAY)
    (tmp_path / "a.log").write_text(LINE)
    (tmp_path / "marked.log").write_text(LINE)
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with a name here")
@pytest.mark.parametrize("kind", ["zeros", "pipe"])
@pytest.mark.parametrize("place", PLACES)
def test_where_a_file_is_meant(folder: Path, capsys: pytest.CaptureFixture[str], place: str, kind: str):
    endless = folder / "endless"
    if kind == "pipe":
        os.mkfifo(endless)
    else:
        endless.symlink_to("/dev/zero")
    side_file(folder / "marked.log").symlink_to(endless)
    vehicle = (folder / "skerry.vehicle.toml").read_text()
    (folder / "odd.vehicle.toml").write_text(vehicle.replace("comfort.dbc", "endless"))
    said = run(folder, [argument.format(endless) for argument in PLACES[place]], capsys)
    if place == "readback":  # a capture of the conversation is read there, too, more than once
        assert "can be read only once – save it as a file first" in said
    else:
        assert "is a device or a pipe, not a file – copy it into a file first" in said


@pytest.mark.parametrize("seconds", ["1e300", "1e10", "inf", "nan"])
def test_a_script_that_does_not_end(folder: Path, capsys: pytest.CaptureFixture[str], seconds: str):
    (folder / "s.script.toml").write_text(SCRIPT.format(seconds))
    said = run(
        folder, ["simulate", "skerry.vehicle.toml", "--script", "s.script.toml", "-o", "new.log"], capsys
    )
    assert "s.script.toml: seconds: must be " in said


@pytest.mark.parametrize("times", [(0, "1e300"), ("-1e300", 1), (0, "9223372036.9"), (0, "inf"), ("nan", 1)])
@pytest.mark.parametrize("command", ["plan", "trim"])
def test_marks_that_end_never(
    folder: Path, capsys: pytest.CaptureFixture[str], times: tuple[object, object], command: str
):
    side_file(folder / "a.log").write_text(MARKS.format(*times))
    plan = ["plan", "--vehicle", "skerry.vehicle.toml", "--retrofit", "sensors.retrofit.toml"]
    asked = [*plan, "--network", "comfort", "--capture", "a.log"]
    said = run(folder, asked if command == "plan" else ["trim", "a.log", "-o", "new.log"], capsys)
    assert "a.marks.toml: mark[0]." in said
    assert "must be " in said
