"""``netcheck find`` at a command line."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from netcheck.cli import main
from netcheck.find import BehindReason, CandidateKind, MarkNote, MarkProblem, NextKind
from netcheck.report import _find_words as words

PRESSES = ((5.0, 7.0), (11.0, 14.0), (19.0, 20.0))


@pytest.fixture
def log(tmp_path: Path) -> Path:
    """30 s of one message with a bit that is pressed three times."""
    lines = []
    for step in range(600):
        time = step * 0.05
        active = any(begin <= time < end for begin, end in PRESSES)
        lines.append(f"({1_700_000_000 + time:.6f}) can0 123#00{0x20 if active else 0:02X}{step & 0xFF:02X}")
    path = tmp_path / "van.log"
    path.write_text("\n".join(lines) + "\n")
    return path


def run(capsys, *arguments: object) -> tuple[int, str, str]:
    code = main([str(each) for each in arguments])
    said = capsys.readouterr()
    return code, said.out, said.err


AT = [word for begin, end in PRESSES for word in ("--at", f"{begin + 0.2:g}-{end + 0.3:g}")]


def test_json_names_the_bit(log, capsys):
    code, out, _ = run(capsys, "find", log, "--role", "reverse-engaged", *AT, "--format", "json")
    found = json.loads(out)
    assert code == 0
    assert found["schema"] == "netcheck.find/1"
    assert found["marks"] == [[5.2, 7.3], [11.2, 14.3], [19.2, 20.3]]
    assert found["separated"] is True
    best = found["candidates"][0]
    expected = {
        "channel": "can0",
        "id": "0x123",
        "extended": False,
        "byte": 1,
        "bit": 5,
        "width": 1,
        "order": "little",
        "signed": False,
        "active": [1],
        "inactive": [0],
        "marks_followed": 3,
        "edges_matched": 6,
        "edges": 6,
        "unasked": [],
        "copies": [],
    }
    assert {key: best[key] for key in expected} == expected
    assert best["score"] >= 0.9


def test_text_draws_the_byte(log, capsys):
    code, out, _ = run(capsys, "find", log, "--role", "reverse-engaged", *AT)
    assert code == 0
    assert "can0 0x123 byte 1 bit 5" in out
    assert "[..#.....]" in out
    assert "3 of 3 marks, 6 of 6 edges" in out
    assert max(map(len, out.splitlines())) <= 80


def test_marks_beside_the_capture(log, capsys):
    marks = ['kind = "marks"', "format = 1"]
    for begin, end in PRESSES:
        marks += [
            "[[mark]]",
            'role = "reverse-engaged"',
            'state = "active"',
            f"from = {begin}",
            f"to = {end}",
        ]
    log.with_name("van.marks.toml").write_text("\n".join(marks))
    code, out, _ = run(capsys, "find", log, "--role", "reverse-engaged", "--format", "json")
    assert code == 0
    assert json.loads(out)["candidates"][0]["bit"] == 5


def test_nothing_found_is_an_empty_list(log, capsys):
    times = [word for begin in (2, 8.6, 16.5, 25) for word in ("--at", f"{begin}-{begin + 0.5}")]
    code, out, _ = run(capsys, "find", log, "--role", "door.driver-open", *times, "--format", "json")
    found = json.loads(out)
    assert code == 3
    assert not found["separated"]
    assert all(each["score"] < 0.9 for each in found["candidates"])


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ([], "no mark says when it was done – give marks of the role with --marks"),
        (["--at", "50-60"], "outside the capture – give times in seconds from the capture's first frame"),
        (["--at", "0-60"], "cover the whole capture"),
        (["--at", "7-5"], "--at 7-5 – write FROM-TO in seconds"),
        (["--at", "soon"], "--at soon – write FROM-TO in seconds"),
    ],
)
def test_what_is_wrong_and_what_to_do(log, capsys, arguments, said):
    code, out, err = run(capsys, "find", log, "--role", "reverse-engaged", *arguments)
    assert (code, out) == (2, "")
    assert said in err
    assert err.count("\n") == 1


def test_a_capture_without_times(tmp_path, capsys):
    log = tmp_path / "untimed.log"
    log.write_text("".join(f"can0 123 [2] 00 {number & 0xFF:02X}\n" for number in range(100)))
    code, _, err = run(capsys, "find", log, "--role", "reverse-engaged", "--at", "0.01-0.05")
    assert code == 2
    assert "no time stamps" in err


def test_without_marks_a_quiet_capture_shows_what_moved_only_here(log, capsys):
    quiet = log.with_name("quiet.log")
    quiet.write_text("".join(line[:-5] + "00" + line[-3:] for line in log.read_text().splitlines(True)))
    code, out, _ = run(capsys, "find", log, "--role", "reverse-engaged", "--quiet", quiet)
    assert code == 3
    assert "can0 0x123 byte 1 bit 5" in out
    assert "moved    active 3 times, at 5.0–7.0 s, 11.0–14.0 s, 19.0–20.0 s" in out
    assert "no mark says when it was done" in " ".join(out.split())


def test_every_kind_has_its_words():
    assert set(words.PROBLEM_WORDS) == set(words.PROBLEM_REMEDIES) == set(MarkProblem)
    assert set(words.NOTE_WORDS) == set(MarkNote)
    assert set(words.BEHIND_WORDS) == set(BehindReason)
    assert set(words.KIND_WORDS) == set(CandidateKind)
    assert set(words.NEXT_WORDS) == set(NextKind)
