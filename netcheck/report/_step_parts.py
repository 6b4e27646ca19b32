"""A step's sentence with its blanks and boxes as parts, for a page that has fields to fill in."""

from __future__ import annotations

import re
from typing import Final, Literal

from netcheck.records import dataclass

_PLACES: Final = re.compile(r"(?P<tick>\[ \] (?P<label>[^\[.,;]+))|(?P<blank>_{2,}(?: __)*)")


@dataclass(frozen=True)
class StepPart:
    """A piece of a step's text. tick: the text beside a box; blank: room to write, with no text."""

    kind: Literal["text", "tick", "blank"]
    text: str = ""


def step_parts(text: str) -> tuple[StepPart, ...]:
    """``Note the VIN: ____`` as its text and a blank; ``[ ] solar`` as a box with its label.

    Every character that is no blank and no box stands in a part, in its order.
    """
    parts: list[StepPart] = []
    begin = 0
    for found in _PLACES.finditer(text):
        if found.start() > begin:
            parts.append(StepPart("text", text[begin : found.start()]))
        parts.append(StepPart("tick", found["label"].strip()) if found["tick"] else StepPart("blank"))
        begin = found.end()
    if begin < len(text):
        parts.append(StepPart("text", text[begin:]))
    return tuple(parts)
