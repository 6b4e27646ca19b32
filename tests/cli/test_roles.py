"""``netcheck roles``: text, JSON, TOML; bad input."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from netcheck.cli import main
from netcheck.files import load_vehicle
from netcheck.find import Clue, ClueKind
from netcheck.report._roles_words import CLUE_WORDS, clue_text

DEMO = Path(__file__).parents[2] / "dbc"
COMFORT = str(DEMO / "skerry_comfort.dbc")
HEAD = """kind = "vehicle"
format = 1
name = "x"
model_years = [2020, 2021]
[network.comfort]
bitrate = 125_000
dbc = "{dbc}"
"""
UNSURE = ("# [[", "# network", "# message", "# signal", "# active", "# not_av", "# counter")


def test_every_reason_has_its_words() -> None:
    assert set(CLUE_WORDS) == set(ClueKind)
    assert all(clue_text(Clue(kind, 0.1, "word")) for kind in ClueKind)


def test_text(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["roles", COMFORT, "--role", "park-brake", "--role", "trip.up", "--role", "park.switch"]) == 0
    out = capsys.readouterr().out
    assert "+ park-brake: ClusterState.ParkBrake, active: on" in out
    assert "score 0.90: its name says 'parkbrake'" in out
    assert "+ trip.up: TripRocker.TripUp" in out
    assert max(map(len, out.splitlines())) <= 80 + len(COMFORT)


def test_json(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["roles", COMFORT, "--role", "reverse-engaged", "--format", "json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["schema"] == "netcheck.roles/1"
    [role] = found["roles"]
    first = role["proposals"][0]
    assert role["sure"] is True
    assert (first["message"], first["signal"], first["labels"]) == ("GearCopy", "GearLever", ["R"])
    assert first["counter"] == "GearCounter"
    assert first["reasons"][0]["kind"] == "name"


def test_entries_load_as_they_are(tmp_path: Path) -> None:
    entries = tmp_path / "roles.toml"
    assert main(["roles", COMFORT, "--format", "toml", "--network", "comfort", "-o", str(entries)]) == 0
    head = HEAD.format(dbc=COMFORT)
    vehicle = tmp_path / "x.vehicle.toml"
    vehicle.write_text(head + entries.read_text())
    roles = load_vehicle(vehicle).model.role
    assert roles["reverse-engaged"][0].active == ("R",)
    assert "vehicle-speed" not in roles  # not sure: a comment
    lines = entries.read_text().splitlines()
    confirmed = "\n".join(line.removeprefix("# ") if line.startswith(UNSURE) else line for line in lines)
    vehicle.write_text(head + confirmed)
    assert load_vehicle(vehicle).model.role["vehicle-speed"][0].signal == "TravelSpeed"


def test_a_capture_tells_what_moves(capsys: pytest.CaptureFixture[str]) -> None:
    log = DEMO.parent / "sample_logs" / "guillemot_2021_conversion.log"
    conversion = str(DEMO / "skerry_conversion.dbc")
    assert main(["roles", conversion, "--role", "steering-angle", "--capture", str(log)]) == 0
    assert "in the captures" in " ".join(capsys.readouterr().out.split())
    assert main(["roles", COMFORT, "--role", "trip.up", "--capture", str(log)]) == 0
    assert "its message is in no capture" in " ".join(capsys.readouterr().out.split())


def test_warnings_of_a_dbc_do_not_flood(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    overlapping = "".join(
        f'BO_ {100 + n} M{n}: 1 X\n SG_ A{n} : 0|4@1+ (1,0) [0|0] "" X\n SG_ B{n} : 2|4@1+ (1,0) [0|0] "" X\n'
        for n in range(9)
    )
    path = tmp_path / "x.dbc"
    path.write_text('VERSION ""\nBU_: X\n' + overlapping)
    assert main(["roles", str(path)]) == 0
    lines = capsys.readouterr().err.splitlines()
    assert len(lines) == 4
    assert lines[-1].startswith("netcheck: 6 more warnings")


def test_the_list(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["roles", "--list"]) == 0
    out = capsys.readouterr().out
    assert "vehicle-speed           road speed as the brakes or the gearbox measure it;" in out
    assert max(map(len, out.splitlines())) <= 80
    assert main(["roles", "--list", "--format", "json"]) == 0
    entry = json.loads(capsys.readouterr().out)["roles"][0]
    assert entry["role"] == "terminal-15"
    assert (entry["kind"], entry["usual_ms"]) == ("state", [50, 200])


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "no DBC file given – name at least one, or give --list"),
        (
            [COMFORT, "--role", "park-break"],
            "--role: 'park-break' is not in the vocabulary – one of park-brake",
        ),
        (["nowhere.dbc"], "nowhere.dbc: does not exist"),
        (["--list", "--format", "toml"], "--list has no TOML form"),
        ([COMFORT, "-o", COMFORT], "is an input"),
    ],
)
def test_bad_input(words: list[str], said: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["roles", *words]) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert said in captured.err
