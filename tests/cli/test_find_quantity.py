"""``netcheck find`` for a quantity, at a command line."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path

import cantools
import numpy as np
import pytest

from netcheck.cli import main
from netcheck.files import load_vehicle
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


def test_a_quantity_is_of_one_role(log, capsys):
    code, _, err = run(
        capsys, "find", log, "--role", "vehicle-speed", "--track", TRACK, "--role", "engine-speed"
    )
    assert code == 2
    assert err.startswith("netcheck: a quantity with several roles")
    assert err.count("\n") == 1


def drafted(capsys, log: Path, *more: object, role: str = "vehicle-speed") -> tuple[int, dict]:
    """Into ``yard.dbc`` beside the log."""
    draft = log.with_name("yard.dbc")
    words = ("find", log, "--role", role, "--track", TRACK, "--draft", draft, "--format", "json", *more)
    code, out, err = run(capsys, *words)
    return code, json.loads(out)["draft"]["roles"][0] if out else {"error": err}


def test_a_quantity_becomes_a_signal_that_decodes(log, capsys):
    """Read again by cantools: order, scale and unit of what the log was made with."""
    code, told = drafted(capsys, log)
    assert (code, told["result"]) == (0, "added")
    assert (told["message"], told["signal"]) == ("Message123", "VehicleSpeed")
    assert (told["scale"], told["offset"], told["unit"], told["active"]) == (0.01, 0.0, "km/h", [])
    database = cantools.database.load_file(log.with_name("yard.dbc"), encoding="ascii")
    (message,) = database.messages
    (signal,) = message.signals
    assert (message.frame_id, message.length) == (0x123, 5)
    assert (signal.byte_order, signal.is_signed, signal.unit) == ("big_endian", False, "km/h")
    assert message.decode(bytes.fromhex("0000 1194 07")) == {"VehicleSpeed": 45.0}
    assert "fitted: 0.01" in signal.comment
    assert "of the movement" in signal.comment
    (source,) = load_vehicle(log.with_name("yard.vehicle.toml")).model.role["vehicle-speed"]
    assert (source.network, source.message, source.signal) == ("yard", "Message123", "VehicleSpeed")
    text = log.with_name("yard.vehicle.toml").read_text()
    assert "found in yard.log on can0 at 0x123" in " ".join(text.replace("#", " ").split())


def test_a_quantity_of_a_known_signal_is_drafted(log, tmp_path, capsys):
    dbc, draft = tmp_path / "cluster.dbc", tmp_path / "yard.dbc"
    dbc.write_text(DBC)
    words = ("--role", "vehicle-speed", "--dbc", dbc, "--like", "Shown.Speed", "--draft", draft)
    code, out, _ = run(capsys, "find", log, *words)
    assert code == 0
    assert "+ vehicle-speed" in out
    assert "added as Message123.VehicleSpeed: 0.01 km/h a step, 0 km/h at raw 0" in " ".join(out.split())
    (signal,) = cantools.database.load_file(draft).messages[0].signals
    assert (signal.scale, signal.offset, signal.unit) == (0.01, 0, "km/h")


def test_a_later_run_leaves_a_quantity_as_it_is(log, capsys):
    """Renamed and a bit narrower by hand: that bit never moved, so it is the same signal."""
    drafted(capsys, log)
    dbc, vehicle = log.with_name("yard.dbc"), log.with_name("yard.vehicle.toml")
    dbc.write_text(
        re.sub(r"VehicleSpeed : \d+\|\d+@0", "Road : 23|16@0", dbc.read_text()).replace(
            "VehicleSpeed", "Road"
        )
    )
    vehicle.write_text(vehicle.read_text().replace("VehicleSpeed", "Road") + "# a note of mine\n")
    before = dbc.read_bytes(), vehicle.read_bytes()
    code, told = drafted(capsys, log)
    assert (code, told["result"], told["signal"]) == (0, "there", "Road")
    assert (dbc.read_bytes(), vehicle.read_bytes()) == before


@pytest.mark.parametrize(
    ("in_dbc", "in_vehicle", "result", "said"),
    [
        (
            (r"\(0\.01,", "(0.02,"),
            (),
            "other-scale",
            "VehicleSpeed with 0.02 km/h a step",
        ),
        (
            (r"SG_ VehicleSpeed : \S+", "SG_ VehicleSpeed : 23|8@0+"),
            (),
            "bits-taken",
            "taken by Message123.VehicleSpeed",
        ),
        ((), ("role.vehicle-speed", "role.engine-speed"), "bits-taken", "for engine-speed"),
        (
            (r"SG_ VehicleSpeed : \S+", "SG_ VehicleSpeed : 7|8@0+"),
            (),
            "elsewhere",
            "the draft has it as Message123.VehicleSpeed",
        ),
        ((r"BO_ 291 ", "BO_ 292 "), (), "elsewhere", "the draft has it as Message123.VehicleSpeed"),
    ],
    ids=["another scale", "other borders", "another role", "other bits", "another message"],
)
def test_a_conflict_of_a_quantity_is_told_and_changes_nothing(log, capsys, in_dbc, in_vehicle, result, said):
    drafted(capsys, log)
    dbc, vehicle = log.with_name("yard.dbc"), log.with_name("yard.vehicle.toml")
    if in_dbc:
        text = re.sub(*in_dbc, dbc.read_text())
        assert text != dbc.read_text()
        dbc.write_text(text.replace(" 291 ", " 292 ") if "292" in in_dbc[1] else text)
    if in_vehicle:
        vehicle.write_text(vehicle.read_text().replace(*in_vehicle))
    before = dbc.read_bytes(), vehicle.read_bytes()
    code, told = drafted(capsys, log)
    assert (code, told["result"]) == (3, result)
    assert said in told["text"]
    assert (dbc.read_bytes(), vehicle.read_bytes()) == before


def test_a_quantity_that_does_not_stand_clear_is_not_written(log, capsys):
    """A single rise proves nothing."""
    draft = log.with_name("yard.dbc")
    words = ("--role", "vehicle-speed", "--track", "3 s:0, 8 s:30 km/h", "--draft", draft)
    code, out, _ = run(capsys, "find", log, *words, "--format", "json")
    assert (code, json.loads(out)["draft"]["roles"][0]["result"]) == (3, "not-clear")
    assert not draft.exists()
