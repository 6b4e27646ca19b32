"""``netcheck plan`` from job files on disk."""

from __future__ import annotations

import contextlib
import errno
import json
import os
import random
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from netcheck.cli import main
from tests.cli.jobs import CLUSTER, DBC, GATEWAY, JOB, RETROFIT, VEHICLE, write_job
from tests.report.layout import overlong

Capsys = pytest.CaptureFixture[str]

CAPTURE = '\n[[capture]]\nfile = "van.log"\nchannels = { can0 = "comfort" }\n'
FRAMES = "".join(f"({100 + i / 10:.6f}) can0 123#0{i % 2}00000000000000\n" for i in range(100))


def run(capsys: Capsys, *arguments: str | Path) -> tuple[int, str, str]:
    status = main(["plan", *map(str, arguments)])
    printed = capsys.readouterr()
    return status, printed.out, printed.err


def jobs_of_each_status(folder: Path) -> dict[str, Path]:
    """Jobs that come to go with changes (0), no-go (1) and unproven (3), and one that cannot be read (2)."""
    go = write_job(folder, GATEWAY + CLUSTER)
    unproven = folder / "unproven.job.toml"
    unproven.write_text(JOB + GATEWAY, encoding="utf-8")
    no_go = folder / "no-go.job.toml"
    no_go.write_text(JOB.replace("sensors.retrofit", "horn.retrofit"), encoding="utf-8")
    (folder / "horn.retrofit.toml").write_text(RETROFIT.replace('"park_display"', '"horn"'), encoding="utf-8")
    bad = folder / "bad.job.toml"
    bad.write_text(JOB + "year = 2020\n", encoding="utf-8")
    return {"go": go, "unproven": unproven, "no-go": no_go, "bad": bad}


@pytest.mark.parametrize(
    ("names", "status"),
    [
        (["go"], 0),
        (["no-go"], 1),
        (["unproven"], 3),
        (["go", "unproven"], 3),
        (["unproven", "no-go", "go"], 1),
        (["no-go", "bad", "go"], 2),
    ],
)
def test_exit_status_is_that_of_the_worst(
    tmp_path: Path, capsys: Capsys, names: list[str], status: int
) -> None:
    jobs = jobs_of_each_status(tmp_path)
    found, out, err = run(capsys, *(jobs[name] for name in names))
    assert found == status
    assert err.count("\n") == names.count("bad")
    assert out.count("Skerry 240, model year 2020 – ") == len(names) - names.count("bad")


def test_text_is_plain_and_80_columns(tmp_path: Path, capsys: Capsys) -> None:
    status, out, err = run(capsys, write_job(tmp_path, GATEWAY + CLUSTER), "-v")
    assert (status, err) == (0, "")
    assert "\x1b" not in out
    assert overlong(out, 80) == []


def test_json_is_an_object_for_one_job_and_an_array_for_several(tmp_path: Path, capsys: Capsys) -> None:
    jobs = jobs_of_each_status(tmp_path)
    _, out, _ = run(capsys, jobs["go"], "--format", "json")
    assert json.loads(out)["schema"] == "netcheck.plan/1"
    assert json.loads(out)["verdict"] == "go-with-changes"
    _, out, _ = run(capsys, jobs["go"], jobs["no-go"], "--format", "json")
    assert [plan["verdict"] for plan in json.loads(out)] == ["go-with-changes", "no-go"]
    status, out, err = run(capsys, jobs["go"], jobs["bad"], "--format", "json")
    assert (status, len(json.loads(out)), err.count("\n")) == (2, 1, 1)
    status, out, _ = run(capsys, jobs["bad"], jobs["bad"], "--format", "json")
    assert (status, out) == (2, "")


def test_a_job_put_together_from_options(tmp_path: Path, capsys: Capsys) -> None:
    write_job(tmp_path, van__log=FRAMES)
    given = [
        "--vehicle",
        tmp_path / "skerry.vehicle.toml",
        "--retrofit",
        tmp_path / "sensors.retrofit.toml",
        "--network",
        "comfort",
        "--capture",
        tmp_path / "van.log",
        "--format",
        "json",
    ]
    status, out, err = run(capsys, *given, "--year", "2019")
    assert (status, err) == (3, "")
    assert json.loads(out)["model_year"] == 2019
    _, out, _ = run(capsys, *given)
    assert json.loads(out)["model_year"] == 2022


def test_output_into_a_file(tmp_path: Path, capsys: Capsys) -> None:
    job = write_job(tmp_path, GATEWAY + CLUSTER + CAPTURE, van__log=FRAMES)
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    target = tmp_path / "plan.json"
    assert run(capsys, job, "--format", "json", "-o", target) == (0, "", "")
    assert json.loads(target.read_text(encoding="utf-8"))["captures"][0]["frames"] == 100
    target.unlink()
    for name in before:
        status, out, err = run(capsys, job, "-o", tmp_path / name)
        assert (status, out) == (2, "")
        assert "is an input of this command" in err
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


def test_a_relative_path_as_a_process(tmp_path: Path) -> None:
    write_job(tmp_path, GATEWAY + CLUSTER)
    done = subprocess.run(
        [sys.executable, "-m", "netcheck", "plan", "van.job.toml"],
        cwd=tmp_path,
        capture_output=True,
        check=False,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])},
    )
    assert (done.returncode, done.stderr) == (0, b"")
    assert "GO WITH CHANGES" in done.stdout.decode("utf-8")


# Every bad input: exit status 2, one line that names the file and the remedy, nothing written.


def replaced(name: str, old: str, new: str) -> Callable[[Path], None]:
    def change(folder: Path) -> None:
        path = folder / name
        text = path.read_text(encoding="utf-8")
        assert old in text
        path.write_text(text.replace(old, new), encoding="utf-8")

    return change


def filled(name: str, data: bytes) -> Callable[[Path], None]:
    def change(folder: Path) -> None:
        (folder / name).write_bytes(data)

    return change


def gone(name: str) -> Callable[[Path], None]:
    return lambda folder: (folder / name).unlink()


def a_folder(name: str) -> Callable[[Path], None]:
    def change(folder: Path) -> None:
        (folder / name).unlink()
        (folder / name).mkdir()

    return change


JPEG = bytes.fromhex("FFD8FFE000104A46494600010100000100010000FFDB004300") + bytes(range(256)) * 20
JUNK = random.Random(3).randbytes(5000)
MARK = '\n[[capture.mark]]\nrole = "reverse-engaged"\nstate = "active"\nfrom = 500.0\nto = 503.0\n'


@pytest.mark.parametrize(
    ("change", "file", "words"),
    [
        (gone("van.job.toml"), "van.job.toml", "no such file"),
        (a_folder("van.job.toml"), "van.job.toml", "directory"),
        (filled("van.job.toml", b""), "van.job.toml", "empty"),
        (filled("van.job.toml", JUNK), "van.job.toml", ""),
        (filled("van.job.toml", b"x" * 41_000_000), "van.job.toml", "too large"),
        (replaced("van.job.toml", "format = 1", "format = 1\nformat = 1"), "van.job.toml", "written twice"),
        (replaced("van.job.toml", '"comfort"\n', '"comfrot"\n'), "van.job.toml", "comfort"),
        (replaced("van.job.toml", "= 2020", "= 2030"), "van.job.toml", "2017 to 2022"),
        (replaced("van.job.toml", "[[item]]", "[item]"), "van.job.toml", "two brackets"),
        (gone("skerry.vehicle.toml"), "van.job.toml", "vehicle"),
        (filled("skerry.vehicle.toml", JUNK), "skerry.vehicle.toml", ""),
        (replaced("skerry.vehicle.toml", '["R"]', '["Reverse"]'), "skerry.vehicle.toml", "Reverse"),
        (gone("sensors.retrofit.toml"), "van.job.toml", "retrofit"),
        (replaced("sensors.retrofit.toml", '"bars"', '"stripes"'), "sensors.retrofit.toml", "bars"),
        (gone("comfort.dbc"), "skerry.vehicle.toml", "no such file"),
        (filled("comfort.dbc", JPEG), "comfort.dbc", ""),
        (filled("comfort.dbc", b""), "comfort.dbc", ""),
        (a_folder("comfort.dbc"), "skerry.vehicle.toml", "directory"),
        (gone("van.log"), "van.job.toml", "no such file"),
        (a_folder("van.log"), "van.job.toml", "directory"),
        (filled("van.log", b""), "van.log", ""),
        (filled("van.log", JUNK), "van.log", ""),
        (filled("van.log", b"0" * 40_000_000), "van.log", ""),
        (replaced("van.job.toml", "can0 =", "can7 ="), "van.job.toml", "can0"),
        (replaced("van.job.toml", "[[readout]]", MARK + "\n[[readout]]"), "van.job.toml", "mark"),
    ],
)
def test_bad_input(
    tmp_path: Path, capsys: Capsys, change: Callable[[Path], None], file: str, words: str
) -> None:
    job = write_job(tmp_path, CAPTURE + GATEWAY + CLUSTER, van__log=FRAMES)
    change(tmp_path)
    before = sorted(path.name for path in tmp_path.iterdir())
    status, out, err = run(capsys, job, "-o", tmp_path / "plan.txt")
    assert (status, out) == (2, "")
    assert err.startswith("netcheck: ")
    assert err.count("\n") == 1
    assert file in err
    assert words in err
    assert "Traceback" not in err
    assert "fault of netcheck" not in err
    assert sorted(path.name for path in tmp_path.iterdir()) == before


def test_the_unchanged_job_of_the_bad_inputs_is_good(tmp_path: Path, capsys: Capsys) -> None:
    job = write_job(tmp_path, CAPTURE + GATEWAY + CLUSTER, van__log=FRAMES)
    assert run(capsys, job)[0] == 0
    assert DBC in (tmp_path / "comfort.dbc").read_text(encoding="utf-8")
    assert VEHICLE in (tmp_path / "skerry.vehicle.toml").read_text(encoding="utf-8")


def _opened_when_read(pipe: Path, process: subprocess.Popen[bytes]) -> int:
    """The pipe, open for writing as soon as the process reads it; fails if the process ends before."""
    while True:
        try:
            return os.open(pipe, os.O_WRONLY | os.O_NONBLOCK)
        except OSError as error:
            if error.errno != errno.ENXIO:  # that is: nobody reads yet
                raise
        with contextlib.suppress(subprocess.TimeoutExpired):
            process.wait(0.02)
            raise AssertionError(process.communicate())


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs named pipes")
def test_interrupted_while_it_reads(tmp_path: Path) -> None:
    job = write_job(tmp_path, CAPTURE + GATEWAY + CLUSTER)
    os.mkfifo(tmp_path / "van.log")
    before = sorted(path.name for path in tmp_path.iterdir())
    arguments = [sys.executable, "-m", "netcheck", "plan", str(job), "-o", str(tmp_path / "plan.txt")]
    with subprocess.Popen(arguments, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        pipe = _opened_when_read(tmp_path / "van.log", process)
        process.send_signal(signal.SIGINT)
        out, err = process.communicate()
        os.close(pipe)
    assert (process.returncode, out, err) == (130, b"", b"netcheck: interrupted\n")
    assert sorted(path.name for path in tmp_path.iterdir()) == before


def test_a_sheet_for_paper(tmp_path: Path, capsys: Capsys) -> None:
    job, target = write_job(tmp_path, GATEWAY + CLUSTER), tmp_path / "sheet.txt"
    assert run(capsys, job, "--sheet", "-o", target) == (0, "", "")
    pages = target.read_text(encoding="utf-8").split("\f")
    assert [page.count("\n") for page in pages] == [66] * len(pages)
    assert run(capsys, job, "--sheet") == (0, "\f".join(pages), "")


@pytest.mark.parametrize("other", [("--format", "json"), ("-v",)])
def test_a_sheet_goes_with_nothing_else(other: tuple[str, ...], tmp_path: Path, capsys: Capsys) -> None:
    status, out, err = run(capsys, write_job(tmp_path, GATEWAY + CLUSTER), "--sheet", *other)
    assert (status, out) == (2, "")
    assert err == "netcheck: --sheet with --format json or -v – leave out one of them\n"
