"""``netcheck trim`` as it is typed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from netcheck.capture import read_capture
from netcheck.cli import main

LOG = """(1700000000.000000) can0 123#11
(1700000000.500000) can1 123#22
(1700000001.000000) can0 12345678#33
nothing
(1700000002.000000) can0 321##1445566
"""
MARKS = 'kind = "marks"\nformat = 1\n[[mark]]\nrole = "gear"\nstate = 3\nfrom = 0.9\nto = 1.1\n'


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    Path("x.log").write_text(LOG)
    return tmp_path


def test_text(folder, capsys):
    Path("x.marks.toml").write_text(MARKS)
    assert main(["trim", "x.log", "-o", "y.log", "--from", "0.5"]) == 0
    assert capsys.readouterr() == (
        "x.log: 4 frames, 3 kept\n"
        "  written y.log: 3 frames on can0 2, can1 1, 1.5 s\n"
        "  marks   y.marks.toml: 1 mark, times from its first frame\n"
        "\n"
        "Worth knowing\n"
        "  - x.log: 1 of 5 lines is not a frame: line 4: not a candump line, “nothing”\n",
        "",
    )
    assert Path("y.log").read_text() == "".join(LOG.splitlines(keepends=True)[n] for n in (1, 2, 4))
    assert "from = 0.4\nto = 0.6\n" in Path("y.marks.toml").read_text()
    assert Path("x.log").read_text() == LOG


def test_json(folder, capsys):
    command = ["trim", "x.log", "-o", "y.log.gz", "--split", "--format", "json", "--rename", "can1=drive"]
    assert main(command) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["schema"] == "netcheck.trim/1"
    assert [(entry["file"], entry["frames"], entry["seconds"]) for entry in found["written"]] == [
        ("y.can0.log.gz", 3, 2.0),
        ("y.drive.log.gz", 1, 0.0),
    ]
    assert len(read_capture("y.can0.log.gz")) == 3
    assert {path.name for path in folder.iterdir()} == {"x.log", "y.can0.log.gz", "y.drive.log.gz"}


def test_every_option_at_once(folder):
    Path("x.marks.toml").write_text(MARKS)
    command = (
        "trim x.log x.log -o y.blf --to 5 --id 0x100-0x200 --id 0x12345678 --not-id 0x150 --channel can0"
    )
    command += " --mark gear --margin 3 --shift 3.5 --blank-id 0x123 --anonymise-vin --vin 1M8GDM9AXKP042788"
    assert main(command.split()) == 0
    capture = read_capture("y.blf")
    assert [capture.payload(i) for i in range(len(capture))] == [b"\0", b"\0", b"\x33", b"\x33"]
    assert capture.time_ns[0] == 1_700_000_003_500_000_000


def test_what_a_format_cannot_hold_is_told(folder, capsys):
    assert main(["trim", "x.log", "-o", "y.trc"]) == 0
    out = capsys.readouterr().out
    assert "written y.trc: 3 frames" in out
    assert "y.trc: 1 CAN FD frame left out: trc has no place for them" in out


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ("-o x.log", "x.log: -o: is an input of this command – name another file to write"),
        ("-o y.mdf", "y.mdf: its name tells no format"),
        ("", "missing option '-o' / '--output'"),
        ("-o y.log --from 5 --to 5", "--from 5 is not before --to 5 – seconds from the first frame"),
        ("-o y.log --from 5", "nothing is left of 4 frames, nothing was written"),
        ("-o y.log --id 291", "'291' is not an id"),
        ("-o y.log --rename can0", "--rename can0: must be OLD=NEW"),
        ("-o y.log --margin -1", "--margin -1 is negative"),
        (
            "-o y.log --margin nan",
            "--margin nan is out of range – at most 4e+09 seconds",
        ),
        ("-o y.log --from nan", "--from nan is out of range"),
        ("-o y.log --to inf", "--to inf is out of range"),
        ("-o y.log --shift -inf", "--shift -inf is out of range"),
        ("-o y.log --shift 1e12", "--shift 1e+12 is out of range"),
        ("-o y.log --vin X", "--vin without --anonymise-vin – give both"),
        ("-o y.log --anonymise-vin --vin X", "'X' is not a vehicle identification number"),
        ("-o y.log --channel can9", "no capture has a channel can9"),
        ("-o y.log --split --rename can0=a/b --rename can1=a_b", "two channels would be y.a_b.log"),
        ("-o no/y.log", "no/y.log: -o: its folder does not exist"),
        ("gone.log -o y.log", "gone.log: there is no such file"),
    ],
)
def test_bad_use_leaves_everything_as_it_was(folder, capsys, more, says):
    assert main(["trim", "x.log", *more.split()]) == 2
    out, err = capsys.readouterr()
    assert (out, err.count("\n")) == ("", 1)
    assert err.startswith(f"netcheck: {says}")
    assert {path.name: path.read_text() for path in folder.iterdir()} == {"x.log": LOG}


def test_marks_of_something_else_are_not_left_beside_the_result(folder, capsys):
    Path("y.marks.toml").write_text(MARKS)
    assert main(["trim", "x.log", "-o", "y.log"]) == 2
    assert "y.marks.toml: exists already and would be taken for marks of y.log" in capsys.readouterr().err


def test_the_marks_of_an_input_are_not_written_over(folder, capsys):
    Path("x.marks.toml").write_text(MARKS)
    assert main(["trim", "x.log", "-o", "x.blf"]) == 2
    assert "x.marks.toml: -o: is an input of this command" in capsys.readouterr().err
    assert Path("x.marks.toml").read_text() == MARKS


def test_an_unreadable_end_of_a_compressed_capture_writes_nothing_but_says_so(folder, capsys):
    import gzip

    packed = gzip.compress(LOG.encode() * 1000)
    Path("z.log.gz").write_bytes(packed[: len(packed) // 2])
    assert main(["trim", "z.log.gz", "-o", "y.log"]) == 0
    assert "its gzip data end early: only what comes before that was read" in capsys.readouterr().out


SENT_AND_RECEIVED = {
    "x.log": "(1700000000.000000) can0 123#11 T\n(1700000000.500000) can0 124#22 R\n",
    "x.asc": "date Tue Nov 14 22:13:20.000 2023\nbase hex  timestamps absolute\n"
    "   0.000000 1  123             Tx   d 1 11\n   0.500000 1  124             Rx   d 1 22\n",
    "x.txt": " (1700000000.000000)  can0  TX - -  123   [1]  11\n"
    " (1700000000.500000)  can0  RX - -  124   [1]  22\n",
}


@pytest.mark.parametrize("name", SENT_AND_RECEIVED)
@pytest.mark.parametrize("target", ["y.log", "y.asc"])
def test_marks_of_sent_and_received_frames_that_get_lost_are_told(folder, capsys, name, target):
    Path(name).write_text(SENT_AND_RECEIVED[name])
    assert main(["trim", name, "-o", target, "--format", "json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert (
        f"{name} marks frames as sent or received: the result does not keep these marks" in found["warnings"]
    )
    assert {"kind": "directions-lost", "file": name} in found["remarks"]


def test_marks_of_sent_frames_in_a_blf_file_are_told_too(folder, capsys):
    import can

    with can.BLFWriter("x.blf") as writer:
        for is_rx in (True, False):
            writer.on_message_received(
                can.Message(1700000000.0, 0x123, is_extended_id=False, is_rx=is_rx, channel=0)
            )
    assert main(["trim", "x.blf", "-o", "y.log", "--format", "json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert {"kind": "directions-lost", "file": "x.blf"} in found["remarks"]


@pytest.mark.parametrize("name", ["x.log", "x.log.gz", "x.asc", "x.blf", "x.csv", "x.trc"])
def test_a_capture_without_such_marks_is_told_of_none(folder, capsys, name):
    if name != "x.log":
        assert main(["trim", "x.log", "-o", name]) == 0
    capsys.readouterr()
    assert main(["trim", name, "-o", "y.log", "--format", "json"]) == 0
    kinds = [remark["kind"] for remark in json.loads(capsys.readouterr().out)["remarks"]]
    assert "directions-lost" not in kinds


@pytest.mark.parametrize("split", [False, True])
def test_a_file_that_is_there_is_replaced_with_force_only(folder, capsys, split):
    target = Path("y.can0.log" if split else "y.log")
    command = ["trim", "x.log", "-o", "y.log", *(["--split"] if split else [])]
    target.write_text("mine")
    assert main(command) == 2
    err = capsys.readouterr().err
    assert f"{target}: -o: exists already – name a different file, or give --force to replace it" in err
    assert target.read_text() == "mine"
    assert {path.name for path in folder.iterdir()} == {"x.log", target.name}
    assert main([*command, "--force"]) == 0
    assert len(read_capture(target)) == (3 if split else 4)


def test_marks_that_are_there_are_replaced_with_force_only(folder, capsys):
    Path("x.marks.toml").write_text(MARKS)
    Path("y.marks.toml").write_text("mine")
    assert main(["trim", "x.log", "-o", "y.log"]) == 2
    assert "y.marks.toml: exists already and would be taken for marks of y.log" in capsys.readouterr().err
    assert Path("y.marks.toml").read_text() == "mine"
    assert not Path("y.log").exists()
    assert main(["trim", "x.log", "-o", "y.log", "--force"]) == 0
    assert 'role = "gear"' in Path("y.marks.toml").read_text()
