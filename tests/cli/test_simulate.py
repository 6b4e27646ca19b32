"""``netcheck simulate``: into logs with marks beside them, onto the screen, onto a bus."""

from __future__ import annotations

import gzip
import json
from pathlib import Path

import can
import pytest

from netcheck.cli import main
from netcheck.files import side_marks
from tests.bench.vans import EXERCISES, put

SHORT = '[[set]]\nrole = "reverse-engaged"\nat = 0.2\nstate = "active"\n'


def argv(folder: Path, *options: str, body: str = EXERCISES, **head: float) -> list[str]:
    vehicle = put(folder, body, **head)
    return ["simulate", str(vehicle), "--script", str(folder / "s.script.toml"), *options]


def test_a_log_with_its_marks_and_a_summary(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    log = tmp_path / "x.log"
    assert main(argv(tmp_path, "-o", str(log))) == 0
    lines = log.read_text().splitlines()
    frames = [line for line in lines if line[0] == "("]
    assert lines[:2] == [
        "# Simulated, no real vehicle: Gull 3, model year 2021, seed 3.",
        "# Body on can0, rear on can1.",
    ]
    assert frames == sorted(frames)
    marks = [loaded.mark for loaded in side_marks(log)]
    first = float(frames[0][1:18]) - 1_615_275_720.0
    assert [(mark.role, mark.state) for mark in marks if mark.state] == [
        ("reverse-engaged", "active"), ("door.left-open", "open"), ("door.left-open", "shut"),
    ]  # fmt: skip
    assert next(mark.from_ for mark in marks if mark.state == "active") == pytest.approx(
        4.0 - first, abs=2e-6
    )
    out, err = capsys.readouterr()
    words = " ".join(out.split())
    body = sum(" can0 " in line for line in frames)
    assert f"x.log: {len(frames):,} frames of Gull 3, model year 2021, seed 3" in words
    assert f"body on can0: {body:,} frames rear on can1: {len(frames) - body:,} frames" in words
    assert "marks.toml: 5 marks" in words
    assert err == ""


def test_the_command_line_plans_over_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(argv(tmp_path, "-o", str(tmp_path / "x.log")))
    plan = ["plan", "--vehicle", str(tmp_path / "gull.vehicle.toml"), "--network", "body", "--format", "json"]
    plan += ["--retrofit", str(tmp_path / "beeper.retrofit.toml"), "--capture", str(tmp_path / "x.log")]
    capsys.readouterr()
    assert main(plan) == 0
    assert json.loads(capsys.readouterr().out)["verdict"] == "go"


def test_the_same_bytes_every_time_packed_or_not(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for name in ("a.log", "b.log", "a.log.gz", "b.txt.gz"):
        assert main(argv(tmp_path, "-o", str(tmp_path / name), seconds=2.0, body=SHORT)) == 0
    capsys.readouterr()
    assert main(argv(tmp_path, seconds=2.0, body=SHORT)) == 0
    plain = (tmp_path / "a.log").read_bytes()
    assert (tmp_path / "b.log").read_bytes() == plain
    assert capsys.readouterr().out.encode() == plain
    assert gzip.decompress((tmp_path / "a.log.gz").read_bytes()) == plain
    assert (tmp_path / "a.log.gz").read_bytes() == (tmp_path / "b.txt.gz").read_bytes()


def test_one_network_and_the_summary_as_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    log = tmp_path / "x.log"
    options = ["-o", str(log), "--network", "rear", "--year", "2019", "--format", "json"]
    assert main(argv(tmp_path, *options, seconds=1.0, body="")) == 0
    result = json.loads(capsys.readouterr().out)
    frames = sum(line[0] == "(" for line in log.read_text().splitlines())
    assert result == {
        "schema": "netcheck.simulation/1", "vehicle": "Gull 3", "model_year": 2019, "seed": 3, "seconds": 1.0,
        "target": log.as_posix(), "marks_file": (tmp_path / "x.marks.toml").as_posix(), "marks": 0,
        "networks": [{"network": "rear", "channel": "can0", "frames": frames}],
        "warnings": [], "left_out": [], "overloads": [], "played": None,
        "remarks": [{"kind": "no-cycle", "network": "rear", "names": ["LeverCopy", "Speed", "Other"]}],
    }  # fmt: skip


def test_old_marks_do_not_stay_beside_a_new_log(tmp_path: Path) -> None:
    log = tmp_path / "x.log"
    main(argv(tmp_path, "-o", str(log)))
    main(argv(tmp_path, "-o", str(log), body=""))
    assert side_marks(log) == ()


def test_a_device_gets_no_marks_file(tmp_path: Path) -> None:
    assert main(argv(tmp_path, "-o", "/dev/null", seconds=1.0, body="")) == 0
    assert not Path("/dev/null.marks.toml").exists()


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["-o", "{}/x.asc"], "-o: a simulation is written as candump text – name it *.log or *.log.gz"),
        (["-o", "{}/body.dbc"], "a simulation is written as candump text"),
        (["-o", "{}/gone/x.log"], "its folder does not exist"),
        (["--channel", "vcan0"], "nothing to send on – give --interface and --channel, or -o for a log"),
        (["--interface", "virtual"], "--interface without --channel"),
        (["--interface", "virtual", "--channel", "x", "-o", "{}/x.log"], "--interface and -o at once"),
        (["--interface", "virtual", "--channel", "x"], "body and rear cannot be sent on one channel"),
        (["--network", "roof"], "has no network 'roof'"),
        (["--year", "1999"], "--year: 1999 is outside"),
    ],
)
def test_bad_usage_is_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], options: list[str], says: str
) -> None:
    assert main(argv(tmp_path, *(option.format(tmp_path) for option in options))) == 2
    out, err = capsys.readouterr()
    assert says in err
    assert (out, err.count("\n")) == ("", 1)
    assert not list(tmp_path.glob("x.*"))


def test_onto_a_bus_only_with_transmit(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    options = ["--network", "rear", "--interface", "virtual", "--channel", "simulated", "--listen", "0"]
    command = argv(tmp_path, *options, seconds=0.5, body=SHORT)
    with can.Bus(interface="virtual", channel="simulated", ignore_config=True) as other_end:
        assert main(command) == 2
        assert other_end.recv(0) is None
        err = capsys.readouterr().err
        assert err.startswith(
            "netcheck: would send: rear of Gull 3 → virtual simulated: 3 ids (0x110, 0x111, 0x112), 0.5 s\n"
        )
        assert err.endswith("nothing was sent – give --transmit to send it, on a bench\n")
        assert main([*command, "--transmit", "--format", "json"]) == 0
        got = []
        while (message := other_end.recv(0)) is not None:
            got.append((message.arbitration_id, bytes(message.data)))
    played = json.loads(capsys.readouterr().out)["played"]
    main(argv(tmp_path, "--network", "rear", seconds=0.5, body=SHORT))
    lines = [line.split()[2] for line in capsys.readouterr().out.splitlines() if line[0] == "("]
    assert [f"{can_id:03X}#{data.hex().upper()}" for can_id, data in got] == lines
    assert (played["sent"], played["stopped"]) == (len(lines), None)
