"""What a person says was done, and when: the marks of the role that is looked for, and of others."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from typing import Final

from netcheck.records import dataclass

_ROWS: Final = 0.35  # s between two marks of a state that are rows of one
_EDGE: Final = 0.3  # s from the border of the capture: an edge there says nothing


class MarkProblem(StrEnum):
    """Why marks cannot be used; each has its words in the report."""

    NONE_OF_ROLE = "no-mark-of-role"
    OUTSIDE = "marks-outside"
    COVERS_ALL = "marks-cover-all"
    NO_TIMES = "no-times"


class MarkNote(StrEnum):
    """What was done with marks."""

    ROWS_JOINED = "rows-joined"
    CLIPPED = "marks-clipped"
    LEFT_OUT = "marks-left-out"
    OVERLAP = "marks-overlap"
    ONE_ONLY = "one-mark"
    NO_MARKS = "no-marks"  # what moved only here is looked for


@dataclass(frozen=True)
class FindMark:
    """A labelled stretch, in seconds from the capture's first frame."""

    role: str
    state: str
    begin: float
    end: float


@dataclass(frozen=True)
class Asked:
    """The marks of one role and state, joined and inside the capture, in order; those of others beside them.

    active: begin and end of each
    others: by role and state
    seconds: of the capture
    """

    role: str
    state: str
    active: tuple[tuple[float, float], ...]
    others: dict[tuple[str, str], tuple[tuple[float, float], ...]]
    seconds: float
    notes: tuple[MarkNote, ...] = ()
    problem: MarkProblem | None = None

    def edges(self) -> list[float]:
        """Times at which something was asked for, without those at the borders of the capture."""
        times = [time for mark in self.active for time in mark]
        return [time for time in times if self.is_inside(time)]

    def is_inside(self, time: float) -> bool:
        """Whether an edge there can be seen."""
        return _EDGE < time < self.seconds - _EDGE


def ask(marks: Sequence[FindMark], role: str, seconds: float, state: str | None = None) -> Asked:
    """What is asked of a capture that lasts so many seconds.

    state: which state of the role; by default ``active``, else the one that is marked most often
    """
    notes: list[MarkNote] = []
    spans: dict[tuple[str, str], list[tuple[float, float]]] = {}
    outside = 0
    for mark in sorted(marks, key=lambda each: (each.begin, each.end)):
        begin, end = max(mark.begin, 0.0), min(mark.end, seconds)
        if begin >= end:
            outside += mark.role == role
            notes.append(MarkNote.LEFT_OUT)
            continue
        if (begin, end) != (mark.begin, mark.end):
            notes.append(MarkNote.CLIPPED)
        found = spans.setdefault((mark.role, mark.state), [])
        if found and begin - found[-1][1] <= _ROWS:
            notes.append(MarkNote.OVERLAP if begin < found[-1][1] else MarkNote.ROWS_JOINED)
            found[-1] = found[-1][0], max(found[-1][1], end)
        else:
            found.append((begin, end))
    wanted = state or _state_of(spans, role)
    active = tuple(spans.pop((role, wanted), ()))
    others = {key: tuple(each) for key, each in spans.items() if key[1] != "inactive"}
    if any(_overlap(active, each) for each in others.values()):
        notes.append(MarkNote.OVERLAP)
    if len(active) == 1:
        notes.append(MarkNote.ONE_ONLY)
    asked = Asked(role, wanted, active, others, seconds, tuple(dict.fromkeys(notes)))
    problem = None
    if not active:
        problem = MarkProblem.OUTSIDE if outside else MarkProblem.NONE_OF_ROLE
    elif not asked.edges():
        problem = MarkProblem.COVERS_ALL
    return Asked(role, wanted, active, others, seconds, asked.notes, problem)


def _state_of(spans: dict[tuple[str, str], list[tuple[float, float]]], role: str) -> str:
    counts = {key[1]: len(each) for key, each in spans.items() if key[0] == role and key[1] != "inactive"}
    if "active" in counts or not counts:
        return "active"
    return max(counts, key=lambda name: counts[name])


def _overlap(some: Sequence[tuple[float, float]], others: Sequence[tuple[float, float]]) -> bool:
    return any(a < d and c < b for a, b in some for c, d in others)
