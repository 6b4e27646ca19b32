"""Marks that go with a capture when it is cut."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from netcheck.files import LoadedMark, Mark
from netcheck.files import marks_text as text_of_marks

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
    """A marks file without comments."""
    return text_of_marks([(mark, "") for mark in marks])
