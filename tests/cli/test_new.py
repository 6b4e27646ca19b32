"""``netcheck new``: files to start from, which load as they are."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from netcheck.catalogue import check_file, load_job, load_retrofit
from netcheck.cli import _new, main
from netcheck.database import load_database
from netcheck.files import load_vehicle
from netcheck.find import propose_modules

ROOT = Path(__file__).parents[2]
COMFORT, DRIVE = ROOT / "dbc" / "skerry_comfort.dbc", ROOT / "dbc" / "skerry_drive.dbc"
LOG = ROOT / "sample_logs" / "puffin_2020_comfort_drive.log.gz"
STRANGER = ROOT / "sample_logs" / "guillemot_2021_conversion.log"
VEHICLE = ["new", "vehicle", "--name", "Tern 3", "--years", "2018-2020", "--dbc", f"comfort={COMFORT}"]

FACT = re.compile(r'^# ("[^"]+" = )', re.MULTILINE)


@pytest.fixture(autouse=True)
def _here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def test_a_vehicle_from_dbc_files_and_captures(capsys: pytest.CaptureFixture[str]) -> None:
    words = ["--dbc", f"drive={DRIVE}", "--bitrate", "comfort=125000"]
    words += ["--capture", str(LOG), "--capture", str(STRANGER), "-o", "tern.vehicle.toml"]
    assert main([*VEHICLE, *words]) == 0
    assert "questions to decide" in capsys.readouterr().err
    vehicle = load_vehicle("tern.vehicle.toml")
    model = vehicle.model
    assert (model.name, model.model_years) == ("Tern 3", (2018, 2020))
    assert vehicle.dbc_paths("drive")[0].resolve() == DRIVE.resolve()
    assert {name: network.bitrate for name, network in model.network.items()} == {
        "comfort": 125_000,
        "drive": 500_000,
    }
    assert model.module["column"].node == "COLUMN"
    assert model.module["cluster"].networks == ("comfort", "drive")
    assert model.role["reverse-engaged"][0].active == ("R",)
    assert check_file("tern.vehicle.toml").faults == ()
    text = " ".join(Path("tern.vehicle.toml").read_text().replace("\n#", "").split())
    assert f"{LOG.name}, channel can0, is this network" in text
    assert f"decide: channel can0 of {STRANGER.name} fits none of these DBC files" in text
    assert text.count("the bit rate was not given") == 1


def test_a_new_vehicle_plans(capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*VEHICLE, "-o", "t.vehicle.toml"]) == 0
    words = ["--vehicle", "t.vehicle.toml", "--item", "reversing-camera", "--capture", str(LOG)]
    assert main(["new", "job", *words, "-o", "t.job.toml"]) == 0
    job = load_job("t.job.toml")
    assert job.captures[0].channels == {"can0": "comfort"}
    assert job.model_year == 2020
    assert main(["plan", "t.job.toml"]) in {1, 3}
    assert "reverse-engaged" in capsys.readouterr().out


def test_a_retrofit() -> None:
    words = [
        "--name",
        "winch",
        "--need",
        "vehicle-speed",
        "--need",
        "winch.armed",
        "--supply",
        "winch.rope-out",
    ]
    assert main(["new", "retrofit", *words, "-o", "winch.retrofit.toml"]) == 0
    retrofit, _ = load_retrofit("winch.retrofit.toml")
    assert [need.role for need in retrofit.need] == ["vehicle-speed", "winch.armed"]
    assert retrofit.supply[0].roles == ("winch.rope-out",)
    assert {step.phase for step in retrofit.step} == {"before", "fit", "prove", "handover"}


def test_json_beside_the_file(capsys: pytest.CaptureFixture[str]) -> None:
    words = ["new", "retrofit", "--name", "winch", "--need", "vehicle-speed", "-o", "w.retrofit.toml"]
    assert main([*words, "--format", "json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert (found["schema"], found["kind"], found["file"]) == (
        "netcheck.new/1",
        "retrofit",
        "w.retrofit.toml",
    )
    assert found["text"] == Path("w.retrofit.toml").read_text()
    lines = found["text"].splitlines()
    assert found["questions"]
    for question in found["questions"]:
        assert lines[question["line"] - 1].startswith(f"# decide: {question['text'][:40]}")


def test_a_job_asks_for_facts_and_resources_that_its_parts_need(capsys: pytest.CaptureFixture[str]) -> None:
    """As questions that are comments: what the vehicle file states or another part gives is not asked."""
    assert main([*VEHICLE, "-o", "t.vehicle.toml"]) == 0
    path = Path("t.vehicle.toml")
    path.write_text(path.read_text().replace("[facts]\n", '[facts]\n"resource.slip-ring-way" = 8\n', 1))
    items = ["reversing-camera", "wheel-buttons@comfort"]
    words = ["--vehicle", "t.vehicle.toml", *(word for item in items for word in ("--item", item))]
    assert main(["new", "job", *words, "-o", "t.job.toml"]) == 0
    text = Path("t.job.toml").read_text()
    assert '# "camera.video" = "PAL"\n' in text
    assert '# "wheel.button-link" = "LIN"\n' in text
    assert '# "resource.video-in-cvbs" = 0\n' in text
    assert "slip-ring-way" not in text
    assert load_job("t.job.toml").own_facts == {}
    assert main(["new", "job", *words, "--item", "head-unit@comfort", "-o", "u.job.toml"]) == 0
    assert "video-in-cvbs" not in Path("u.job.toml").read_text()
    asked = re.findall(FACT, text)
    Path("t.job.toml").write_text(re.sub(FACT, r"\1", text))
    assert len(load_job("t.job.toml").own_facts) == len(asked) > 5
    capsys.readouterr()


def test_a_vehicle_asks_for_facts_that_entries_depend_on_and_for_resources() -> None:
    assert main([*VEHICLE, "-o", "t.vehicle.toml"]) == 0
    text = Path("t.vehicle.toml").read_text()
    for line in ('# "gearbox" = "manual"', '# "tow-bar" = "yes"', '# "resource.slip-ring-way" = 0'):
        assert f"{line}\n" in text
    assert "wheel-buttons takes 10" in text
    head, heading, asked = text.partition("\n[facts]\n")
    Path("t.vehicle.toml").write_text(head + heading + re.sub(FACT, r"\1", asked))
    facts = load_vehicle("t.vehicle.toml").model.facts
    assert facts["supply.voltage"] == 12
    assert facts["resource.parked-interlock"] == 0


def test_an_existing_file_stays(capsys: pytest.CaptureFixture[str]) -> None:
    Path("t.vehicle.toml").write_text("mine")
    assert main([*VEHICLE, "-o", "t.vehicle.toml"]) == 2
    assert "exists already" in capsys.readouterr().err
    assert Path("t.vehicle.toml").read_text() == "mine"
    assert main([*VEHICLE, "-o", "t.vehicle.toml", "--force"]) == 0
    load_vehicle("t.vehicle.toml")


def test_an_input_is_never_the_output(capsys: pytest.CaptureFixture[str]) -> None:
    Path("x.dbc").write_bytes(COMFORT.read_bytes())
    words = ["new", "vehicle", "--name", "x", "--years", "2018", "--dbc", "x.dbc", "-o", "x.dbc", "--force"]
    assert main(words) == 2
    assert "is an input" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["new", "vehicle"], "--name is missing – give it, or call this on a terminal to be asked"),
        (["new", "vehicle", "--name", "x", "--years", "2018"], "--dbc is missing"),
        ([*VEHICLE[:5], "18", *VEHICLE[6:]], "--years 18 – write the first and the last"),
        ([*VEHICLE[:5], "2020-2018", *VEHICLE[6:]], "write the earlier year first"),
        ([*VEHICLE, "--bitrate", "drive=500000"], "--bitrate drive=500000 – write NET=N for one of comfort"),
        ([*VEHICLE, "--bitrate", "comfort=fast"], "write it in bit/s"),
        ([*VEHICLE, "--need", "vehicle-speed"], "--need is not for a new vehicle file"),
        (["new", "retrofit", "--name", "x", "--need", "Vehicle Speed"], "is not a role name"),
        (["new", "retrofit", "--name", "x", "--need", "vehicle-sped"], "did you mean 'vehicle-speed'?"),
        (["new", "job", "--item", "reversing-camera"], "--vehicle is missing"),
        (["new", "job", "--vehicle", "gone.toml", "--item", "reversing-camera"], "gone.toml: no such file"),
        (["new", "boat"], "boat"),
    ],
)
def test_bad_input(words: list[str], said: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(words) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert said in captured.err


def test_a_job_refuses_what_does_not_suit_the_vehicle(capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*VEHICLE, "-o", "t.vehicle.toml"]) == 0
    capsys.readouterr()
    job = ["new", "job", "--vehicle", "t.vehicle.toml"]
    for words, said in (
        (["--item", "park-distance"], "it sends something, so its network must be known"),
        (["--item", "park-distance@driv"], "'driv' is not a network of the vehicle"),
        (["--item", "reversing-camera", "--year", "2030"], "--year: 2030 is outside"),
        (["--item", "reversing-camara"], "is not a shipped retrofit"),
    ):
        assert main([*job, *words]) == 2
        assert said in capsys.readouterr().err


def test_it_asks_on_a_terminal(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    answers = iter(["Tern 3", "2018-2020", f"comfort={COMFORT}", ""])
    monkeypatch.setattr(_new, "_is_terminal", lambda: True)
    monkeypatch.setattr(_new.typer, "prompt", lambda *_, **__: next(answers))
    assert main(["new", "vehicle", "-o", "t.vehicle.toml"]) == 0
    assert load_vehicle("t.vehicle.toml").model.name == "Tern 3"


def test_modules_of_nodes() -> None:
    found = {
        module.node: module for module in propose_modules({"comfort": load_database(COMFORT, cache=False)})
    }
    assert (found["BODY"].name, found["BODY"].is_known) == ("body", True)
    assert (found["DOOR_L"].name, found["DOOR_L"].is_known) == ("door-l", False)


def test_the_demo_file_is_what_the_command_writes(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    monkeypatch.chdir(ROOT)
    words = ["--name", "Skerry 240", "--years", "2017-2022", "--dbc", "comfort=dbc/skerry_comfort.dbc"]
    words += ["--bitrate", "comfort=125000", "--capture", "sample_logs/puffin_2020_comfort_drive.log.gz"]
    assert main(["new", "vehicle", *words]) == 0
    shown = capsys.readouterr().out
    written = (ROOT / "sample_logs" / "skerry_from_dbc.vehicle.toml").read_text(encoding="utf-8")
    assert written.partition("\n")[2] == shown.replace('"dbc/', '"../dbc/')
