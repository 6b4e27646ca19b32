"""Marks that go with a capture when it is cut."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence

from netcheck.files import LoadedMark, Mark

_PLACES = 6  # of seconds: a microsecond


def moved(marks: Iterable[LoadedMark], seconds: float) -> list[Mark]:
    """The marks as from a start that lies ``seconds`` earlier."""
    return [
        loaded.mark.model_copy(
            update={
                "from_": round(loaded.mark.from_ + seconds, _PLACES),
                "to": round(loaded.mark.to + seconds, _PLACES),
            }
        )
        for loaded in marks
    ]


def within(marks: Iterable[Mark], seconds: float) -> tuple[list[Mark], int]:
    """Marks that touch a capture of that length, by their start, and how many do not."""
    all_of_them = list(marks)
    kept = [mark for mark in all_of_them if mark.to > 0 and mark.from_ < seconds]
    return sorted(kept, key=lambda mark: (mark.from_, mark.to)), len(all_of_them) - len(kept)


def marks_text(marks: Sequence[Mark]) -> str:
    """A marks file."""
    lines = ['kind = "marks"', "format = 1"]
    for mark in marks:
        lines += ["", "[[mark]]", f"role = {_quoted(mark.role)}"]
        if mark.between is not None:
            lines.append(f"between = [{mark.between[0]!r}, {mark.between[1]!r}]")
        else:
            state = mark.state
            lines.append(f"state = {_quoted(state) if isinstance(state, str) else state}")
        lines += [f"from = {mark.from_!r}", f"to = {mark.to!r}"]
    return "\n".join(lines) + "\n"


def _quoted(text: str) -> str:
    """A TOML basic string; JSON's escapes are among TOML's, but for DEL, which TOML wants escaped."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
