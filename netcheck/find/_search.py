"""The search: movements and marks to candidates."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from netcheck.find._behind import put_behind
from netcheck.find._marks import Asked, FindMark, MarkProblem, ask
from netcheck.find._model import FieldCandidate, NextExercise, NextKind, Search
from netcheck.find._movements import Movements
from netcheck.find._rank import is_clear, ranked
from netcheck.find._shared import in_shared_fields
from netcheck.find._states import chance, hypotheses, moved_bits

_RIVAL: Final = 0.2  # of the best score, for one that could be it as well
_OF_ONE_MARK: Final = 0.5  # score at most: many a signal changes once
_WEAK: Final = 0.7  # score of all these together, below which the marks say too little


def find_states(
    movements: Movements,
    marks: Sequence[FindMark],
    role: str,
    *,
    state: str | None = None,
    quiet: Sequence[Movements] = (),
) -> Search:
    """Which fields of a capture follow the marks of a role.

    state: of the role; by default ``active``
    quiet: captures in which nobody touched anything
    """
    asked = ask(marks, role, movements.seconds, state)
    if not movements.has_times:
        asked = replace(asked, problem=MarkProblem.NO_TIMES)
    candidates: tuple[FieldCandidate, ...] = ()
    if asked.problem is None:
        found = in_shared_fields(hypotheses(movements, asked, quiet), asked)
        candidates = ranked(found, chance(moved_bits(movements)))
    if len(asked.active) == 1:
        candidates = tuple(replace(each, score=min(each.score, _OF_ONE_MARK)) for each in candidates)
    clear = is_clear(candidates)
    return Search(
        file=movements.file,
        asked=asked,
        frames=movements.frames,
        candidates=candidates,
        separated=clear,
        next=_next(candidates, asked, quiet, is_separated=clear),
        behind=put_behind(movements, candidates, quiet),
        messages=len(movements.messages),
        quiet=tuple(each.file for each in quiet),
    )


def _next(
    candidates: Sequence[FieldCandidate], asked: Asked, quiet: Sequence[Movements], *, is_separated: bool
) -> NextExercise:
    marks = len(asked.active)
    if not candidates:
        return NextExercise(NextKind.NO_MOVEMENT, marks=marks)
    best = candidates[0]
    if is_separated:
        return NextExercise(NextKind.USE, best.field, marks)
    rivals = [each for each in candidates[1:] if each.score > _RIVAL * best.score]
    about = rivals[0].field if rivals else best.field
    is_linked = any(each.cause is not None for each in (best, *rivals))
    is_weak = marks < 3 or best.score + sum(each.score for each in rivals) < _WEAK
    rules = (
        (NextKind.OTHERS, best.in_others > 0, best.field),
        (NextKind.NOTES, len(best.unasked) > 1, best.field),
        (NextKind.MORE_MARKS, is_weak, best.field),
        (NextKind.CAUSE, is_linked, about),
        (NextKind.QUIET, not quiet, best.field),
        (NextKind.TWINS, True, about),
    )
    return next(NextExercise(kind, field, marks) for kind, holds, field in rules if holds)
