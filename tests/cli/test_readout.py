"""``netcheck readout``: a capture to a readouts file that a job includes; nothing secret in any output."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from netcheck.cli import main
from netcheck.files import load_readback, load_vehicle
from tests.diagnostics.talk import CODING, COLUMN, GATEWAY, VIN, Talk

ROOT = Path(__file__).parents[2]
VEHICLE = ROOT / "dbc" / "skerry_240.vehicle.toml"
LATER = "4C011F228000"


@pytest.fixture
def log(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    talk = Talk().ask(GATEWAY, "222210", "622210" + CODING).ask(GATEWAY, "1902FF", "5902FFC121872F")
    talk.ask(GATEWAY, "22F190", "62F190" + VIN.encode().hex()).ask(GATEWAY, "229999", "62999901")
    talk.ask(GATEWAY, "2701", "6701DEADBEEF").ask(GATEWAY, "2702CAFEBABE", "6702")
    talk.ask(GATEWAY, "2E2210" + LATER, "6E2210").ask(GATEWAY, "222210", "622210" + LATER)
    talk.ask(GATEWAY, "1902FF", "5902FF").ask(COLUMN, "222230", "7F2233").message(0x6A1, 0x6B1, "222215")
    return talk.log(tmp_path)


def run(*words: object) -> int:
    return main([str(word) for word in words])


def test_json(log, capsys):
    assert run("readout", log, "--vehicle", VEHICLE, "--format", "json") == 0
    found = json.loads(capsys.readouterr().out)
    assert found["schema"] == "netcheck.readout/1"
    gateway, column, body = found["modules"]
    assert (gateway["module"], gateway["request_id"], gateway["response_id"]) == ("gateway", "0x6A0", "0x6B0")
    assert gateway["identification"] == {"0xF190": VIN}
    assert gateway["blocks"] == {"0x2210": LATER, "0x9999": "01"}
    assert (gateway["before"]["0x2210"], gateway["after"]["0x2210"]) == (CODING, LATER)
    assert gateway["fields"]["0x2210"]["park_distance_module"] == "fitted"
    assert gateway["faults"] == []
    assert gateway["faults_before"] == [{"code": "U012187", "status": "0x2F", "kind": "", "stored": True}]
    (write,) = gateway["writes"]
    assert (write["did"], write["data"], write["accepted"]) == ("0x2210", LATER, True)
    assert column["refusals"] == [{"service": "0x22", "did": "0x2230", "code": "0x33", "count": 1}]
    assert (body["module"], body["answered"], [f["kind"] for f in body["findings"]]) == (
        "body",
        0,
        ["no-answer"],
    )


@pytest.mark.parametrize("form", ["text", "json"])
@pytest.mark.parametrize("vehicle", [["--vehicle", VEHICLE], []])
def test_no_byte_of_a_key_is_in_any_output(log, tmp_path, capsys, form, vehicle):
    run("readout", log, *vehicle, "--format", form, "-o", tmp_path / "x.readouts.toml")
    told = capsys.readouterr().out + (tmp_path / "x.readouts.toml").read_text()
    plain = "".join(told.split()).upper()
    assert "DEADBEEF" not in plain
    assert "CAFEBABE" not in plain


def test_the_file_is_one_that_a_job_includes(log, tmp_path, capsys):
    target = tmp_path / "x.readouts.toml"
    assert run("readout", log, "--vehicle", VEHICLE, "-o", target) == 0
    assert "0x9999 01, no block of the vehicle file" in target.read_text()
    found = load_readback(target, load_vehicle(VEHICLE), 2020)
    assert [(block.module, block.did, block.data.hex().upper()) for block in found.blocks] == [
        ("gateway", 0x2210, LATER)
    ]
    assert [(entry.module, entry.faults) for entry in found.modules] == [("gateway", ())]
    assert run("readout", log, "--vehicle", VEHICLE, "-o", target) == 2
    assert "exists already" in capsys.readouterr().err
    assert run("readout", log, "--vehicle", VEHICLE, "-o", target, "--force") == 0


def test_the_text_names_what_matters(log, capsys):
    assert run("readout", log.name, "--vehicle", VEHICLE) == 0
    text = capsys.readouterr().out
    assert max(map(len, text.splitlines())) <= 80
    for words in (
        "  before  4C 01 1F 02 80 00\n  after   4C 01 1F 22 80 00\n                   ^^",
        "park_distance_module: absent → fitted",
        "no fault stored",
        "seen: security access (0x27), 0x01: 1 accepted",
        "security access denied (0x33)",
        "did not answer 1 request",
    ):
        assert words in text


def test_without_a_vehicle_file_the_skeleton_follows(log, tmp_path):
    target = tmp_path / "x.readouts.toml"
    assert run("readout", log, "-o", target) == 0
    text = target.read_text()
    assert 'module = "module_6B0"' in text
    assert "# [module.module_6B0.coding.0x2210]\n# length = 6" in text


def test_a_text_is_read_as_well(tmp_path, capsys):
    path = tmp_path / "export.txt"
    path.write_text("gateway;2210;4C 01 1F 02 80 00\ngateway;22;x\n")
    assert run("readout", path, "--vehicle", VEHICLE) == 2
    path.write_text("gateway;2210;4C 01 1F 02 80 00\n")
    assert run("readout", path, "--vehicle", VEHICLE) == 0
    assert "block 0x2210: 4C 01 1F 02 80 00" in capsys.readouterr().out


def test_a_capture_without_a_conversation(tmp_path, capsys):
    path = tmp_path / "x.log"
    path.write_text("(1.000000) can0 123#00\n")
    assert run("readout", path) == 3
    assert "NO CONVERSATION" in capsys.readouterr().out
    assert run("readout", path, "-o", tmp_path / "x.toml") == 3
    assert not (tmp_path / "x.toml").exists()


def test_captures_and_texts_at_once(log, tmp_path, capsys):
    path = tmp_path / "export.txt"
    path.write_text("gateway;2210;4C 01 1F 02 80 00\n")
    assert run("readout", log, path) == 2
    assert "captures and texts at once" in capsys.readouterr().err


SAMPLES = ROOT / "sample_logs"
JOB = SAMPLES / "puffin_2020_park_and_cruise.job.toml"


def test_two_captures_and_a_job_tell_what_is_in_and_what_else_moved(capsys):
    captures = [SAMPLES / f"puffin_2020_diagnostics_{side}.log" for side in ("before", "after")]
    words = ["--before", captures[0], "--readback", captures[1], "--format", "json"]
    assert run("coding", JOB, *words) == 1
    back = json.loads(capsys.readouterr().out)["readback"]
    assert {(f["module"], f["field"]): f["status"] for f in back["fields"]} == {
        ("gateway", "park_distance_module"): "holds",
        ("body", "park_switch"): "holds",
        ("column", "cruise_stalk"): "holds",
        ("cluster", "cruise_display"): "differs",
        ("cluster", "park_display"): "differs",
        ("engine", "cruise_control"): "holds",
    }
    assert [(b["module"], c["field"]) for b in back["blocks"] for c in b["foreign"]] == [
        ("column", "wheel_heating")
    ]
    assert {(f["module"], f["code"]): f["change"] for f in back["faults"]} == {
        ("airbag", "U014087"): "new",
        ("body", "P01C014"): "gone",
        ("body", "B12341A"): "still",
    }
    assert [(w["module"], w["what"], w["accepted"], w["code"]) for w in back["writes"]] == [
        ("column", "other", True, None),
        ("cluster", "planned", False, "0x22"),
        ("engine", "planned", True, None),
        ("body", "planned", True, None),
        ("gateway", "planned", True, None),
    ]
    assert (back["other_vins"], back["numbers"], back["faults_unread"]) == ([], [], [])


def test_the_jobs_own_readouts_and_the_captures_come_to_the_same(capsys):
    after = SAMPLES / "puffin_2020_after.readouts.toml"
    assert run("coding", JOB, "--readback", after, "--format", "json") == 1
    back = json.loads(capsys.readouterr().out)["readback"]
    assert len(back["faults"]) == 3
    assert back["writes"] == []


def test_before_may_be_a_readouts_file(tmp_path, capsys):
    sides = [SAMPLES / f"puffin_2020_{side}.readouts.toml" for side in ("before", "after")]
    text = JOB.read_text().replace('"../dbc', f'"{(ROOT / "dbc").as_posix()}')
    text = text.replace('"puffin', f'"{(SAMPLES / "puffin").as_posix()}')
    (tmp_path / "van.job.toml").write_text(text.partition("[[readout]]")[0])
    words = [tmp_path / "van.job.toml", "--before", sides[0], "--readback", sides[1], "--format", "json"]
    assert run("coding", *words) == 1
    back = json.loads(capsys.readouterr().out)["readback"]
    assert [check["status"] for check in back["fields"]].count("holds") == 4
    assert {fault["change"] for fault in back["faults"]} == {"new", "gone", "still"}


def test_a_module_of_another_vehicle_is_told(tmp_path, capsys):
    text = JOB.read_text().replace("ZZZSK240ZL0123456", "ZZZSK240ZL0123457")
    text = text.replace('"../dbc', f'"{(ROOT / "dbc").as_posix()}')
    text = text.replace('"puffin', f'"{(SAMPLES / "puffin").as_posix()}')
    (tmp_path / "van.job.toml").write_text(text)
    assert (
        run("coding", tmp_path / "van.job.toml", "--readback", SAMPLES / "puffin_2020_after.readouts.toml")
        == 1
    )
    assert "the job is ZZZSK240ZL0123457" in " ".join(capsys.readouterr().out.split())
