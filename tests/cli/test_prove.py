"""``netcheck prove`` from job files on disk."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from netcheck.cli import main
from tests.prove.small import (
    OTHER_VIN,
    USUAL,
    Sent,
    SmallJob,
    changed,
    fixed,
    lever,
    log_of,
    vin_pages,
    without,
)
from tests.report.layout import overlong

Capsys = pytest.CaptureFixture[str]

CASES = {
    "pass": (USUAL, 0),
    "pass-with-notes": (USUAL | {"Key": Sent(0x4A0, 500, fixed(b"\1"), begin=5.0, end=6.6)}, 0),
    "not-shown": (changed(USUAL, "Lever", data=lever()), 3),
    "fail": (without(USUAL, "Plain"), 1),
}


@pytest.mark.parametrize("verdict", CASES)
def test_exit_statuses(tmp_path: Path, capsys: Capsys, verdict: str) -> None:
    after, status = CASES[verdict]
    SmallJob(tmp_path, log_of(USUAL), log_of(after)).load()
    job = str(tmp_path / "van.job.toml")
    assert main(["prove", job, "--format", "json"]) == status
    printed = capsys.readouterr()
    assert json.loads(printed.out)["verdict"] == verdict
    assert printed.err == ""
    assert main(["prove", job]) == status
    assert overlong(capsys.readouterr().out, 80) == []


def test_another_vehicle_is_told_in_the_first_lines(tmp_path: Path, capsys: Capsys) -> None:
    SmallJob(tmp_path, log_of(USUAL), log_of(USUAL | {"Vin": vin_pages(OTHER_VIN)})).load()
    assert main(["prove", str(tmp_path / "van.job.toml")]) == 3
    lines = capsys.readouterr().out.splitlines()
    assert lines[2].startswith("ANOTHER VEHICLE")
    assert not any("shown" in line for line in lines)


def test_the_result_is_the_same_every_time_and_never_an_input(tmp_path: Path, capsys: Capsys) -> None:
    SmallJob(tmp_path, log_of(USUAL), log_of(without(USUAL, "Plain"))).load()
    job, target = str(tmp_path / "van.job.toml"), tmp_path / "proof.json"
    texts = []
    for _ in range(2):
        assert main(["prove", job, "--format", "json", "-o", str(target)]) == 1
        texts.append(target.read_bytes())
    assert texts[0] == texts[1]
    assert main(["prove", job, "-o", str(tmp_path / "after.log")]) == 2
    assert "is an input" in capsys.readouterr().err


def test_a_job_without_captures_shows_nothing(tmp_path: Path, capsys: Capsys) -> None:
    SmallJob(tmp_path).load()
    assert main(["prove", str(tmp_path / "van.job.toml")]) == 3
    assert "no capture" in capsys.readouterr().out
