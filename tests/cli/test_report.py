"""``netcheck report`` from job files on disk."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from netcheck.cli import main
from tests.cli.jobs import GATEWAY, write_job

Capsys = pytest.CaptureFixture[str]


def test_a_page_is_written_and_never_over_a_file_unasked(tmp_path: Path, capsys: Capsys) -> None:
    job, target = str(write_job(tmp_path, GATEWAY)), tmp_path / "job.html"
    assert main(["report", job, "-o", str(target)]) == 0
    first = target.read_bytes()
    assert first.startswith(b"<!DOCTYPE html>")
    target.write_text("mine", encoding="utf-8")
    assert main(["report", job, "-o", str(target)]) == 2
    assert "--force" in capsys.readouterr().err
    assert target.read_text("utf-8") == "mine"
    assert main(["report", job, "-o", str(target), "--force"]) == 0
    assert target.read_bytes() == first


@pytest.mark.parametrize("name", ["van.job.toml", "skerry.vehicle.toml", "comfort.dbc"])
def test_an_input_is_never_written_over(tmp_path: Path, capsys: Capsys, name: str) -> None:
    job = str(write_job(tmp_path))
    before = (tmp_path / name).read_bytes()
    assert main(["report", job, "-o", str(tmp_path / name), "--force"]) == 2
    assert "is an input" in capsys.readouterr().err
    assert (tmp_path / name).read_bytes() == before


def test_without_a_file_the_page_goes_to_a_pipe(tmp_path: Path, capsys: Capsys) -> None:
    assert main(["report", str(write_job(tmp_path))]) == 0
    assert capsys.readouterr().out.startswith("<!DOCTYPE html>")


def test_json_has_plan_and_charts(tmp_path: Path, capsys: Capsys) -> None:
    job = str(write_job(tmp_path, GATEWAY))
    assert main(["report", job, "--format", "json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["schema"] == "netcheck.report/1"
    assert told["plan"]["verdict"] == "unproven"
    assert told["proof"] is None
    assert main(["report", job, "--format", "json", "--pdf", str(tmp_path / "x.pdf")]) == 2


def test_a_job_that_cannot_be_read_is_one_line(tmp_path: Path, capsys: Capsys) -> None:
    job = write_job(tmp_path, "\n[[capture]]\nfile = 'gone.log'\n")
    assert main(["report", str(job), "-o", str(tmp_path / "x.html")]) == 2
    assert capsys.readouterr().err.count("\n") == 1
    assert not (tmp_path / "x.html").exists()


def test_other_commands_import_no_template_engine(tmp_path: Path) -> None:
    code = (
        "import sys; from netcheck.cli import main; main(['plan', sys.argv[1], '-o', sys.argv[2]])\n"
        "print([name for name in ('jinja2', 'netcheck.page', 'netcheck.traces') if name in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, write_job(tmp_path), tmp_path / "plan.txt"],
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout == "[]\n"
