"""The log of the example suite is what its script gives, cut to two ids."""

from __future__ import annotations

from pathlib import Path

from netcheck.cli import main

ROOT = Path(__file__).parents[2]
EXAMPLES = ROOT / "tests" / "examples"


def test_the_log_comes_out_as_it_is(tmp_path):
    made, cut = str(tmp_path / "wheel_keys.log"), tmp_path / "cut.log"
    vehicle, script = str(ROOT / "dbc" / "skerry_240.vehicle.toml"), str(EXAMPLES / "wheel_keys.script.toml")
    assert main(["simulate", vehicle, "--script", script, "--network", "comfort", "-o", made]) == 0
    assert main(["trim", made, "-o", str(cut), "--id", "0x16A", "--id", "0x203"]) == 0
    kept = (EXAMPLES / "wheel_keys.log").read_text().splitlines(keepends=True)
    assert kept[0].startswith("# Invented data")
    assert "".join(kept[1:]) == cut.read_text()
    assert (EXAMPLES / "wheel_keys.marks.toml").read_text() == (tmp_path / "cut.marks.toml").read_text()
