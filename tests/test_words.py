"""Turns of phrase that all rooms share."""

from __future__ import annotations

from pathlib import Path

import pytest

from netcheck.report import plan_text
from netcheck.words import path_text
from tests.acceptance.cases import LEVER, every, lever_case


@pytest.mark.parametrize(
    ("path", "text"),
    [
        ("x.log", "x.log"),
        ("a/b-c_d.log.gz", "a/b-c_d.log.gz"),
        ("logs of May/x.log", "'logs of May/x.log'"),
        (Path("my van.log"), "'my van.log'"),
        ("tab\there.log", "'tab\there.log'"),
    ],
)
def test_a_path_with_blanks_stands_in_quotes(path, text):
    assert path_text(path) == text


@pytest.mark.parametrize("width", [40, 80])
def test_a_file_name_with_blanks_is_one_piece_wherever_a_plan_writes_it(tmp_path, width):
    """Each line that begins the name also ends it."""
    case = lever_case(tmp_path, evidence="answers")
    log = case.log().send(LEVER, every(0.1), "00000000").mark("reverse", 2.0, 4.0)
    log.name = log.entry["file"] = "log of May.log"
    text = plan_text(case.plan(), width=width, verbose=True)
    named = [line for line in text.splitlines() if "log of" in line]
    assert len(named) >= 2
    assert all("'log of May.log'" in line for line in named)
