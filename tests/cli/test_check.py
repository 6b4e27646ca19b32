"""``netcheck check``: exit status, text, JSON."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from netcheck.cli import main
from tests.files.examples import EXAMPLES, NAMES, changed, folder


@pytest.fixture(autouse=True)
def _here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def test_nothing_wrong(capsys: pytest.CaptureFixture[str]) -> None:
    folder(Path())
    assert main(["check", NAMES["vehicle"], NAMES["job"]]) == 0
    out = capsys.readouterr().out
    assert f"+ {NAMES['vehicle']}: no fault in this vehicle file" in out
    assert "No fault in 2 files." in out


def test_faults_end_with_two(capsys: pytest.CaptureFixture[str]) -> None:
    text = changed(EXAMPLES["vehicle"], "model_years", "modelyears")
    folder(Path(), vehicle=changed(text, 'node = "COLUMN"', "node = 5"))
    assert main(["check", NAMES["vehicle"]]) == 2
    captured = capsys.readouterr()
    assert captured.err == ""
    assert f"X {NAMES['vehicle']}: 3 faults" in captured.out
    assert "  modelyears: unknown key. One of model_years" in captured.out
    assert "  model_years: is missing. " in captured.out
    assert "  module.column.node: must be a text, not the number 5." in captured.out
    assert max(map(len, captured.out.splitlines())) <= 80


def test_json(capsys: pytest.CaptureFixture[str]) -> None:
    folder(Path(), vehicle=changed(EXAMPLES["vehicle"], 'node = "COLUMN"', "node = 5"))
    assert main(["check", NAMES["vehicle"], "gone.toml", "--format", "json"]) == 2
    found = json.loads(capsys.readouterr().out)
    assert found["schema"] == "netcheck.check/1"
    assert [(one["file"], one["kind"], len(one["faults"])) for one in found["files"]] == [
        (NAMES["vehicle"], "vehicle", 1),
        ("gone.toml", None, 1),
    ]
    assert found["files"][0]["faults"][0]["where"] == "module.column.node"


def test_the_file_is_never_the_output(capsys: pytest.CaptureFixture[str]) -> None:
    folder(Path())
    assert main(["check", NAMES["vehicle"], "-o", NAMES["vehicle"]]) == 2
    assert "is an input" in capsys.readouterr().err
