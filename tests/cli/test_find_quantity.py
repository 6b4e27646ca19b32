"""``netcheck find`` for a quantity, at a command line."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest

from netcheck.cli import main
from netcheck.find import QuantityNext, QuantityProblem, Sense
from netcheck.report import _find_quantity_words as words

CORNERS = ((0, 0), (3, 0), (8, 30), (11, 30), (15, 8), (18, 8), (24, 50), (29, 0))
TRACK = ", ".join(f"{time} s:{value}" for time, value in CORNERS) + " km/h"
DBC = """VERSION ""

BU_: CLUSTER

BO_ 512 Shown: 8 CLUSTER
 SG_ Speed : 0|8@1+ (0.5,0) [0|127] "km/h" CLUSTER
"""


@pytest.fixture
def log(tmp_path: Path) -> Path:
    """30 s: a speed of 16 bits, big-endian, 0.01 km/h a step, and the slower one of a cluster."""
    lines = []
    times, values = zip(*CORNERS, strict=True)
    for step in range(1500):
        time = step * 0.02
        speed = max(float(np.interp(time - 0.2, times, values)) + 0.3 * math.sin(1.3 * time), 0.0)
        lines.append(f"({1_700_000_000 + time:.6f}) can0 123#0000{round(100 * speed):04X}{step & 0xFF:02X}")
        if step % 5 == 0:
            lines.append(f"({1_700_000_000 + time + 0.001:.6f}) can0 200#{round(2 * speed):02X}")
    path = tmp_path / "yard.log"
    path.write_text("\n".join(lines) + "\n")
    return path


def run(capsys, *arguments: object) -> tuple[int, str, str]:
    code = main([str(each) for each in arguments])
    said = capsys.readouterr()
    return code, said.out, said.err


def test_json_names_field_and_scale(log, capsys):
    code, out, _ = run(capsys, "find", log, "--role", "vehicle-speed", "--track", TRACK, "--format", "json")
    found = json.loads(out)
    assert code == 0
    assert (found["schema"], found["kind"], found["unit"]) == ("netcheck.find/1", "quantity", "km/h")
    assert (found["marks"], found["separated"], found["next_kind"]) == ([], True, "use")
    assert found["known"]["points"][2] == [8.0, 30.0]
    best = found["candidates"][0]
    expected = {"channel": "can0", "id": "0x123", "byte": 3, "bit": 0, "order": "big", "signed": False}
    assert {key: best[key] for key in expected} == expected
    assert best["width"] in range(13, 17)
    assert best["scale"] == pytest.approx(0.01, rel=0.03)
    assert best["usual_scale"] == 0.01
    assert best["score"] >= 0.9
    assert [copy["id"] for copy in best["copies"]] == ["0x200"]
    assert {key: value for key, value in found["behind"][-1].items() if key != "reason"} == {
        "channel": "can0",
        "id": "0x123",
        "extended": False,
        "byte": 4,
        "bits": [0, 7],
    }
    assert found["behind"][-1]["reason"] == "counter"


def test_text(log, capsys):
    code, out, _ = run(capsys, "find", log, "--role", "vehicle-speed", "--track", TRACK)
    assert code == 0
    assert "vehicle-speed by a track of 8 points" in " ".join(out.split())
    assert "big-endian" in out
    assert "usual: 0.01" in out
    assert "never negative; continuous" in " ".join(out.split())
    assert "counter" in out
    assert max(map(len, out.splitlines())) <= 80


def test_a_signal_of_a_dbc(log, tmp_path, capsys):
    dbc = tmp_path / "cluster.dbc"
    dbc.write_text(DBC)
    arguments = ("find", log, "--role", "vehicle-speed", "--dbc", dbc, "--like", "Shown.Speed")
    code, out, _ = run(capsys, *arguments, "--format", "json")
    found = json.loads(out)
    assert code == 0
    assert found["known"]["signal"] == "Shown.Speed"
    assert [each["id"] for each in found["candidates"]] == ["0x123"]


def test_a_signal_in_another_capture(log, tmp_path, capsys):
    """The cluster was recorded by another tool from 5 s earlier on, with the same clock."""
    dbc, other, without = tmp_path / "cluster.dbc", tmp_path / "other.log", tmp_path / "without.log"
    dbc.write_text(DBC)
    lines = log.read_text().splitlines()
    early = [f"({1_699_999_995 + step / 10:.6f}) can0 200#00" for step in range(50)]
    other.write_text("\n".join([*early, *(line for line in lines if " 200#" in line)]) + "\n")
    without.write_text("\n".join(line for line in lines if " 123#" in line) + "\n")
    arguments = ("--role", "vehicle-speed", "--dbc", dbc, "--like", "Shown.Speed", "--format", "json")
    code, out, _ = run(capsys, "find", without, *arguments, "--like-in", other)
    assert code == 0
    assert json.loads(out)["candidates"][0]["scale"] == pytest.approx(0.01, rel=0.01)
    code, _, err = run(capsys, "find", log, *arguments, "--like-in", without)
    assert code == 2
    assert "Shown.Speed never came in it" in err


def test_marks_with_ranges(log, capsys):
    text = ['kind = "marks"', "format = 1"]
    for begin, end, low, high in (
        (0, 3, 0, 0),
        (8, 11, 28, 32),
        (15, 18, 6, 10),
        (23, 25, 44, 52),
        (29, 30, 0, 2),
    ):
        text += [
            "[[mark]]",
            'role = "vehicle-speed"',
            f"between = [{low}, {high}]",
            f"from = {begin}",
            f"to = {end}",
        ]
    log.with_suffix(".marks.toml").write_text("\n".join(text) + "\n")
    _, out, _ = run(capsys, "find", log, "--role", "vehicle-speed", "--format", "json")
    found = json.loads(out)
    assert len(found["marks"]) == 5
    assert found["candidates"][0]["scale"] == pytest.approx(0.01, rel=0.1)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--track", "soon"], "--track: 'soon' is not a point of a track – write SECONDS:VALUE"),
        (["--track", "0:0, 10:5 km/h, 20:0 mph"], "--track has several units: km/h, mph"),
        (["--track", "10:0, 5:3"], "--track needs two points or more, in order of time"),
        (["--track", "90:0, 95:3, 99:0"], "lies outside the capture – give times in seconds"),
        (["--track", "0:0, 1:3, 2:0"], "too short"),
        (["--track", "0:5, 20:5"], "never changes"),
        (["--track", "0:0, 9:5", "--at", "3-5"], "--at gives times of a state"),
        (["--track", "0:0, 9:5", "--like", "A.B"], "give one of them"),
        (["--like", "A.B"], "give both --dbc FILE and --like MESSAGE.SIGNAL"),
        (["--like-in", "yard.log"], "name it: --like MESSAGE.SIGNAL"),
    ],
)
def test_what_is_wrong_and_what_to_do(log, capsys, arguments, said):
    code, out, err = run(capsys, "find", log, "--role", "vehicle-speed", *arguments)
    assert (code, out) == (2, "")
    assert said in err
    assert err.count("\n") == 1


def test_a_signal_that_no_dbc_has(log, tmp_path, capsys):
    dbc = tmp_path / "cluster.dbc"
    dbc.write_text(DBC)
    code, _, err = run(capsys, "find", log, "--role", "vehicle-speed", "--dbc", dbc, "--like", "Shown.Sped")
    assert code == 2
    assert "no DBC has it" in err
    assert "Shown.Speed" in err


def test_every_kind_has_its_words():
    assert set(words.QUANTITY_PROBLEM_WORDS) == set(words.QUANTITY_PROBLEM_REMEDIES) == set(QuantityProblem)
    assert set(words.SENSE_WORDS) == set(Sense)
    assert set(words.QUANTITY_NEXT_WORDS) == set(QuantityNext)


STEERING = "20 s:0, 24.5 s:0, 25.5 s:-400, 27.5 s:-400, 31.5 s:400, 33.5 s:400, 36 s:0, 42 s:0 deg"


def test_a_border_that_the_movement_hides_is_not_told_as_sure(capsys):
    """Ramps of constant slope hide that the lower byte belongs to the angle, which has 16 bits."""
    log = Path(__file__).parents[2] / "sample_logs" / "guillemot_2021_conversion_after.log.gz"
    asked = ["find", log, "--role", "steering-angle", "--track", STEERING]
    code, out, _ = run(capsys, *asked, "--format", "json")
    found = json.loads(out)
    best = found["candidates"][0]
    assert (code, found["separated"], found["next_kind"]) == (3, False, "beside")
    assert (best["id"], best["byte"], best["width"], best["bytes_beside"]) == ("0x18FF2227", 1, 8, [0])
    assert best["score"] <= 0.85
    _, text, _ = run(capsys, *asked)
    assert "byte 0 beside it only moved when it did" in " ".join(text.split())


@pytest.mark.parametrize(
    "more", [("--role", "engine-speed"), ("--draft", "found.dbc")], ids=["several roles", "a draft"]
)
def test_a_quantity_is_of_one_role_and_in_no_draft(log, capsys, tmp_path, monkeypatch, more):
    monkeypatch.chdir(tmp_path)
    code, _, err = run(capsys, "find", log, "--role", "vehicle-speed", "--track", TRACK, *more)
    assert code == 2
    assert err.startswith("netcheck: ")
    assert err.count("\n") == 1
    assert not (tmp_path / "found.dbc").exists()
