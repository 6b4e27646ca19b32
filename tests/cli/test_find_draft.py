"""``netcheck find --draft``: what cantools and netcheck read of the files, and what a later run leaves."""

from __future__ import annotations

import json
from pathlib import Path

import cantools
import pytest

from netcheck.cli import main
from netcheck.files import load_vehicle
from netcheck.find import DraftKind
from netcheck.report._draft import DRAFT_WORDS
from tests.demo.captures import FOUND_ROLES, SAMPLE_LOGS

SPANS = {
    "reverse-engaged": ((5.0, 7.0), (11.0, 14.0), (19.0, 20.0)),
    "wheel.volume-up": ((24.0, 25.0), (29.0, 31.5), (34.0, 34.8)),
    "wheel.volume-down": ((38.0, 39.2), (42.0, 42.7), (45.0, 48.0)),
    "wheel.mute": ((51.0, 52.0), (55.0, 56.8), (60.0, 63.0)),
}
CODES = {"wheel.volume-up": 1, "wheel.volume-down": 2, "wheel.mute": 3}

INVENTED = "# Invented data: a simulated Skerry 240, no real vehicle.\n"


def active(role: str, time: float) -> bool:
    return any(begin <= time < end for begin, end in SPANS[role])


def frames() -> list[tuple[float, int, bytes]]:
    """66 s: reverse is 7 in the lower half of 0x0E9's first byte, buttons are codes in 0x2B4's second."""
    found = []
    for step in range(1320):
        time = step * 0.05
        lever = 7 if active("reverse-engaged", time) else 0
        code = sum(value for role, value in CODES.items() if active(role, time))
        found += [(time, 0x0E9, bytes([lever, step & 0xFF])), (time, 0x2B4, bytes([0, code << 2, 0]))]
    return found


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    start = 1_700_000_000
    lines = [f"({start + time:.6f}) can0 {can_id:03X}#{data.hex()}\n" for time, can_id, data in frames()]
    (tmp_path / "van.log").write_text("".join(lines))
    marks = ['kind = "marks"\nformat = 1\n']
    for role, spans in SPANS.items():
        for begin, end in spans:
            marks.append(f'[[mark]]\nrole = "{role}"\nstate = "active"\nfrom = {begin}\nto = {end}\n')
    (tmp_path / "van.marks.toml").write_text("".join(marks))
    monkeypatch.chdir(tmp_path)
    return tmp_path


def find(capsys, *roles: str, draft: str = "body.dbc") -> tuple[int, dict]:
    words = [word for role in roles for word in ("--role", role)]
    code = main(["find", "van.log", *words, "--draft", draft, "--format", "json"])
    said = capsys.readouterr()
    return code, json.loads(said.out) if said.out else {"error": said.err}


def test_the_draft_decodes_what_was_marked(folder, capsys):
    code, told = find(capsys, *SPANS)
    assert code == 0
    assert {each["result"] for each in told["draft"]["roles"]} == {"added"}
    database = cantools.database.load_file(folder / "body.dbc", encoding="ascii")
    vehicle = load_vehicle(folder / "body.vehicle.toml").model
    for role in SPANS:
        (source,) = vehicle.role[role]
        message = database.get_message_by_name(source.message)
        for time, can_id, data in frames():
            if can_id == message.frame_id:
                value = message.decode(data, decode_choices=False)[source.signal]
                assert (value in source.active) == active(role, time)
    assert "3 of 3 marks" in database.messages[0].signals[0].comment


def test_the_draft_plans(folder, capsys):
    find(capsys, *SPANS)
    assert main(["check", "body.vehicle.toml"]) == 0
    capsys.readouterr()
    words = ["--retrofit", "reversing-camera", "--network", "body", "--capture", "van.log"]
    main(["plan", "--vehicle", "body.vehicle.toml", *words, "--year", "2020", "--format", "json"])
    plan = json.loads(capsys.readouterr().out)
    needs = {need["role"]: need for need in plan["items"][0]["needs"]}
    assert (needs["reverse-engaged"]["status"], needs["reverse-engaged"]["evidence"]) == ("shown", "answers")


def test_a_later_run_adds_and_leaves_what_is_there(folder, capsys):
    find(capsys, "reverse-engaged")
    vehicle, dbc = folder / "body.vehicle.toml", folder / "body.dbc"
    vehicle.write_text(vehicle.read_text().replace("[1990, 2099]", "[2018, 2019]") + "# a note of mine")
    dbc.write_text(dbc.read_text().replace("BU_:", "BU_: GATEWAY").replace("Message0E9", "Lever"))
    vehicle.write_text(vehicle.read_text().replace("Message0E9", "Lever"))
    before, first = vehicle.read_text(), cantools.database.load_file(dbc)
    code, told = find(capsys, "reverse-engaged", *CODES)
    assert code == 0
    assert [each["result"] for each in told["draft"]["roles"]] == ["there", "added", "added", "added"]
    assert vehicle.read_text().startswith(before)
    second = cantools.database.load_file(dbc)
    assert [node.name for node in second.nodes] == ["GATEWAY"]
    (old,), (new,) = (
        [message for message in each.messages if message.name == "Lever"] for each in (first, second)
    )
    assert repr(new.signals) == repr(old.signals)
    assert new.signals[0].comment == old.signals[0].comment
    assert load_vehicle(vehicle).model.model_years == (2018, 2019)


def test_nothing_new_touches_no_file(folder, capsys):
    find(capsys, *SPANS)
    files = [folder / "body.vehicle.toml", folder / "body.dbc"]
    before = [(path.read_bytes(), path.stat().st_ino) for path in files]
    code, told = find(capsys, *SPANS)
    assert code == 0
    assert {each["result"] for each in told["draft"]["roles"]} == {"there"}
    assert [(path.read_bytes(), path.stat().st_ino) for path in files] == before


def test_a_conflict_is_told_and_changes_nothing(folder, capsys):
    find(capsys, "reverse-engaged")
    vehicle = folder / "body.vehicle.toml"
    vehicle.write_text(vehicle.read_text().replace("[[role.reverse-engaged]]", "[[role.door-open]]"))
    before = vehicle.read_bytes(), (folder / "body.dbc").read_bytes()
    code, told = find(capsys, "reverse-engaged")
    assert code == 3
    assert (told["separated"], told["draft"]["roles"][0]["result"]) == (True, "bits-taken")
    assert "for door-open" in told["draft"]["roles"][0]["text"]
    assert (vehicle.read_bytes(), (folder / "body.dbc").read_bytes()) == before


@pytest.mark.parametrize(
    ("prepare", "draft", "said"),
    [
        (lambda _: None, "body.txt", "does not end in .dbc – name a DBC file"),
        (lambda _: None, "no/body.dbc", "its folder does not exist"),
        (lambda f: (f / "body.dbc").write_text("nonsense"), "body.dbc", "not a DBC file"),
        (lambda f: (f / "body.vehicle.toml").write_text("x = 1"), "body.dbc", "is there, but not body.dbc"),
    ],
)
def test_a_draft_that_cannot_be_written(folder, capsys, prepare, draft, said):
    prepare(folder)
    before = sorted((path.name, path.read_bytes()) for path in folder.iterdir())
    code, told = find(capsys, "reverse-engaged", draft=draft)
    assert code == 2
    assert said in told["error"]
    assert sorted((path.name, path.read_bytes()) for path in folder.iterdir()) == before


def test_a_vehicle_file_of_other_networks_is_refused(folder, capsys):
    find(capsys, "reverse-engaged")
    (folder / "other.dbc").write_bytes((folder / "body.dbc").read_bytes())
    vehicle = folder / "body.vehicle.toml"
    vehicle.write_text(vehicle.read_text().replace('"body.dbc"', '"other.dbc"'))
    code, told = find(capsys, "wheel.mute")
    assert code == 2
    assert "has no network with the DBC body.dbc" in told["error"]


def test_a_new_vehicle_takes_the_roles_of_a_draft(folder, capsys):
    find(capsys, *SPANS)
    words = ["--name", "Skerry 240", "--years", "2017-2022", "--dbc", "comfort=body.dbc"]
    assert main(["new", "vehicle", *words, "-o", "v.vehicle.toml"]) == 0
    draft, new = (load_vehicle(folder / name).model for name in ("body.vehicle.toml", "v.vehicle.toml"))
    for role, (source,) in draft.role.items():
        assert new.role[role] == (source.model_copy(update={"network": "comfort"}),)


def test_the_demo_draft_is_what_the_command_writes(tmp_path, capsys):
    roles = [word for role in FOUND_ROLES for word in ("--role", role)]
    log = SAMPLE_LOGS / "kittiwake_2022_comfort.log.gz"
    assert main(["find", str(log), *roles, "--draft", str(tmp_path / "skerry_found.dbc")]) == 0
    for name in ("skerry_found.dbc", "skerry_found.vehicle.toml"):
        kept = (SAMPLE_LOGS / name).read_text()
        assert (tmp_path / name).read_text() == kept.removeprefix(INVENTED)


def test_every_result_has_its_words():
    assert set(DRAFT_WORDS) == set(DraftKind)
