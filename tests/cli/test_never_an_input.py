"""No result takes the place of one of its inputs, whichever way the command comes to know it."""

from __future__ import annotations

from pathlib import Path

import pytest

from netcheck.cli import main
from tests.bench.vans import put
from tests.cli.jobs import GATEWAY, JOB, READOUTS, write_job

CAPTURE = '\n[[capture]]\nfile = "x.log"\n'
MARKS = 'kind = "marks"\nformat = 1\n'

JOB_FILES = [
    "van.job.toml",
    "skerry.vehicle.toml",
    "comfort.dbc",
    "sensors.retrofit.toml",
    "x.log",
    "x.marks.toml",
]
CASES = [
    *(("plan van.job.toml", name) for name in JOB_FILES),
    ("plan --vehicle skerry.vehicle.toml --retrofit sensors.retrofit.toml --network comfort", "comfort.dbc"),
    ("plan van.job.toml broken.job.toml", "broken.job.toml"),
    ("plan van.job.toml of_broken.job.toml", "broken.vehicle.toml"),
    *(("coding van.job.toml --readback r.readouts.toml", name) for name in [*JOB_FILES, "r.readouts.toml"]),
    ("coding van.job.toml --before y.log", "y.log"),
    ("coding van.job.toml --readback y.log", "y.log"),
    ("readout x.log y.log", "y.log"),
    ("readout x.log --force", "x.log"),
    ("readout x.log --vehicle skerry.vehicle.toml --force", "skerry.vehicle.toml"),
    ("readout x.log --vehicle skerry.vehicle.toml --force", "comfort.dbc"),
    *(("tap van.job.toml --capture y.log", name) for name in [*JOB_FILES, "y.log"]),
    *(("report van.job.toml --force", name) for name in JOB_FILES),
    ("report --survey x.log --dbc comfort.dbc --force", "x.log"),
    ("report --survey x.log --vehicle skerry.vehicle.toml --force", "comfort.dbc"),
    ("report --find x.log --role reverse-engaged --quiet y.log --force", "y.log"),
    ("find x.log --role reverse-engaged --quiet y.log --draft van.dbc", "y.log"),
    ("survey x.log y.log", "y.log"),
    ("survey x.log --dbc comfort.dbc", "comfort.dbc"),
    ("survey x.log --dbc .", "comfort.dbc"),
    ("survey x.log --dbc .", "broken.DBC"),
    ("survey x.log --vehicle skerry.vehicle.toml", "skerry.vehicle.toml"),
    ("survey x.log --vehicle skerry.vehicle.toml", "comfort.dbc"),
    ("decode x.log --dbc comfort.dbc", "x.log"),
    ("decode x.log --dbc comfort.dbc --format csv", "comfort.dbc"),
    ("trim x.log y.log", "y.log"),
    ("trim x.log y.log --force", "y.log"),
    ("record van.job.toml --interface virtual --channel a --network comfort", "x.log"),
    ("record van.job.toml --interface virtual --channel a --network comfort --force", "x.log"),
    ("trim x.log", "link.log"),
    ("trim x.log --rename can0=can1 --split", "x.log"),  # would be x.can1.log, the same file
    ("simulate gull.vehicle.toml --script s.script.toml --network body", "rear.log"),
    ("replay x.log --interface virtual --channel a", "x.log"),
]  # fmt: skip


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    vehicle = put(tmp_path, "", seconds=0.5)
    write_job(tmp_path, CAPTURE + GATEWAY)
    vehicle.write_text(vehicle.read_text().replace('"rear.dbc"', '"rear.log"'))
    (tmp_path / "rear.dbc").rename(tmp_path / "rear.log")
    (tmp_path / "x.log").write_text("".join(f"({n}.000000) can0 123#00\n" for n in range(1_000, 1_009)))
    (tmp_path / "y.log").write_text("(1020.000000) can0 123#01\n")
    (tmp_path / "link.log").symlink_to("x.log")
    (tmp_path / "x.can1.log").hardlink_to(tmp_path / "x.log")
    (tmp_path / "x.marks.toml").write_text(MARKS)
    (tmp_path / "r.readouts.toml").write_text(READOUTS + GATEWAY)
    (tmp_path / "broken.DBC").write_text("BO_ nonsense")
    (tmp_path / "broken.job.toml").write_text("kind = ")
    (tmp_path / "broken.vehicle.toml").write_text("kind = ")
    (tmp_path / "of_broken.job.toml").write_text(JOB.replace("skerry.vehicle", "broken.vehicle"))
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize(("arguments", "target"), CASES)
def test_it_is_refused_and_stays_as_it_was(
    folder: Path, capsys: pytest.CaptureFixture[str], arguments: str, target: str
) -> None:
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    assert main([*arguments.split(), "-o", str(folder / target)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "is an input of this command" in err.splitlines()[-1]
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before
