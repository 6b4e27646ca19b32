"""Blanks and boxes of a step."""

from __future__ import annotations

import pytest

from netcheck.report.viewing import step_parts

CASES = {
    "Note the VIN: ____________": ["text Note the VIN: ", "blank "],
    "Off: [ ] starter battery [ ] solar. Wait.": [
        "text Off: ",
        "tick starter battery",
        "tick solar",
        "text . Wait.",
    ],
    "from ____ to ____ s": ["text from ", "blank ", "text  to ", "blank ", "text  s"],
    "Read: __ __ __ __": ["text Read: ", "blank "],
    "snake_case stays, and so does [x]": ["text snake_case stays, and so does [x]"],
    "": [],
}


@pytest.mark.parametrize("text", CASES)
def test_blanks_and_boxes_are_found(text: str) -> None:
    assert [f"{part.kind} {part.text}" for part in step_parts(text)] == CASES[text]
