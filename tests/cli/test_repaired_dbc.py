"""What was put right in a DBC is told by every command that stands on it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from netcheck.cli import main
from tests.bench.vans import put
from tests.cli.jobs import DBC, VEHICLE

STRAY = '\nVAL_ 291 Wiper 0 "off";\n'
SAID = "line 14: the VAL_ entry is left out: no message with the id 0x123 has a signal Wiper"


def test_plan(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "comfort.dbc").write_text(DBC + STRAY)
    vehicle = tmp_path / "van.vehicle.toml"
    vehicle.write_text(VEHICLE)
    asked = [
        "plan",
        "--vehicle",
        str(vehicle),
        "--retrofit",
        "dash-camera",
        "--network",
        "comfort",
        "--year",
        "2020",
    ]
    main([*asked, "--format", "json"])
    plan = json.loads(capsys.readouterr().out)
    file = str(tmp_path / "comfort.dbc")
    assert plan["warnings"] == [f"{file}: {SAID}"]
    repair = {
        "kind": "stray-entry",
        "file": file,
        "line": 14,
        "name": "Wiper",
        "entry": "VAL_",
        "can_id": 0x123,
    }
    assert plan["warning_facts"] == [
        {"kind": "repaired-dbc", "text": f"{file}: {SAID}", "facts": {"repair": repair}}
    ]
    main(asked)
    assert "the VAL_ entry is left out" in " ".join(capsys.readouterr().out.split())


def test_decode(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    dbc, log = tmp_path / "x.dbc", tmp_path / "x.log"
    dbc.write_text(DBC + STRAY)
    log.write_text("(1.0) can0 123#0000000000000000\n")
    assert main(["decode", str(log), "--dbc", str(dbc), "--format", "csv"]) == 0
    assert capsys.readouterr().err == f"netcheck: {dbc}: {SAID}\n"
    assert main(["decode", str(log), "--dbc", str(dbc), "--format", "json"]) == 0
    assert json.loads(capsys.readouterr().out)["warnings"] == [f"{dbc}: {SAID}"]


def test_simulate(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    vehicle = put(tmp_path, "", seconds=0.1)
    (dbc,) = tmp_path.glob("body.dbc")
    dbc.write_text(dbc.read_text() + STRAY)
    line = dbc.read_text().count("\n")
    assert main(["simulate", str(vehicle), "--script", str(tmp_path / "s.script.toml")]) == 0
    said = capsys.readouterr().err
    assert f"netcheck: {dbc}: line {line}: the VAL_ entry is left out: no message with the id 0x123" in said
