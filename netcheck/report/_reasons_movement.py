"""All that is said of reasons of movement: whether the signal moved, and followed the marks."""

from __future__ import annotations

from typing import Final

from netcheck.evidence import MarkSeen
from netcheck.report._numbers import number
from netcheck.report._reason_parts import (
    Advice,
    ReasonWords,
    exercise_of,
    listened,
    message_of,
    network_of,
    period_text,
    was_there,
)
from netcheck.verdict import NeedResult, Reason
from netcheck.words import counted, listing
from netcheck.work import SettleNeeds

MOST_MARKS: Final = 3  # named in one line


def _seen_ok(need: NeedResult) -> str:
    seen = need.facts.seen
    if not need.facts.is_captured:
        return f"{need.title} is defined on {network_of(need)}; no capture needed"
    parts = [answered_marks(seen.marks)] if seen.marks else []
    return ", ".join([*parts, period_text(need), listened(need)])


def _seen_no_answer(need: NeedResult) -> str:
    marks = need.facts.seen.marks
    told = [_unanswered(mark) for mark in marks if not mark.is_answered]
    return f"{answered_marks(marks)} answered; not {listing(told, most=MOST_MARKS)}"


def _unanswered(mark: MarkSeen) -> str:
    if not mark.valid:
        return f"{mark_text(mark)} (no valid frame there)"
    part = "in part: " if mark.is_partly else ""
    return f"{mark_text(mark)} ({part}{mark.in_state} of {mark.valid} frames in state)"


def mark_text(mark: MarkSeen) -> str:
    """``active 12–15 s in x.log``."""
    state = mark.state if mark.between is None else f"{mark.between[0]:g} to {mark.between[1]:g}"
    return f"{state} {mark.from_s:g}–{mark.to_s:g} s in {mark.file}"


def answered_marks(marks: tuple[MarkSeen, ...]) -> str:
    return f"{sum(mark.is_answered for mark in marks)} of {counted(len(marks), 'mark')}"


def _next_no_answer(need: NeedResult) -> Advice:
    return Advice(
        "Check the marks' times against what was done, then repeat with longer marks",
        exercise_of(need),
        "If it fails again, this signal is not what the vehicle file says.",
    )


def _desk_marks(todo: SettleNeeds) -> str:
    return f"Check the marks of {listing(todo.roles)} against what was done and correct wrong times."


def _seen_unasked(need: NeedResult) -> str:
    outside = need.facts.seen.outside
    first = f", first at {outside.first[0]:.1f} s in {outside.first[1]}" if outside.first is not None else ""
    return f"active in {counted(outside.frames, 'frame')} outside all marks{first}"


def _next_unasked(need: NeedResult) -> Advice:
    return Advice(
        "Compare the times with what was done: correct the marks if they are wrong; if not, another signal "
        "may be behind this role. Repeat with marks",
        exercise_of(need),
    )


def _unmarked(need: NeedResult) -> str:
    return f"no mark says when it was {'active' if need.facts.has_active_states else 'exercised'}"


def _next_mark(need: NeedResult) -> Advice:
    again = "Repeat the exercise and mark" if need.facts.exercises else "Exercise it and mark"
    return Advice(f"{again} from when to when", exercise_of(need))


def _seen_not_exercised(need: NeedResult) -> str:
    seen = need.facts.seen
    if not seen.carried:
        what = "its page" if seen.frames else message_of(need)
        return f"{what} never came in {listened(need)}; it may be sent only when used"
    return f"{was_there(need)}, but {_unmoved(need)}"


def _unmoved(need: NeedResult) -> str:
    value = _held(need)
    return f"it never moved: {value} throughout" if value else "it never moved"


def _held(need: NeedResult) -> str:
    """The one value it held, by label where it has one."""
    facts, seen = need.facts, need.facts.seen
    if seen.raw.low is None or seen.raw.differ:
        if seen.active:
            return "no other state than active"
        return "never active" if facts.has_active_states else ""
    if facts.held is not None:
        return f"{facts.held} ({int(seen.raw.low)})"
    return f"{number(seen.value.low)} {facts.unit}".strip()


def _next_exercise(need: NeedResult) -> Advice:
    and_mark = " and mark it" if need.asks == "answers" else ""
    return Advice(f"Exercise it during a capture{and_mark}", exercise_of(need))


MOVEMENT_REASONS: Final[dict[Reason, ReasonWords]] = {
    Reason.OK: ReasonWords(seen=_seen_ok, next=lambda _: Advice(), several="shown"),
    Reason.NO_ANSWER: ReasonWords(
        seen=_seen_no_answer,
        next=_next_no_answer,
        several="no answer to the exercise",
        desk=_desk_marks,
    ),
    Reason.SOME_ANSWERS: ReasonWords(
        seen=_seen_no_answer,
        next=lambda need: Advice(
            "Check the marks' times against what was done, then repeat with longer marks",
            exercise_of(need),
            "If it fails again, another signal may be behind this role.",
        ),
        several="some marks were not answered",
        desk=_desk_marks,
    ),
    Reason.MOVES_UNASKED: ReasonWords(
        seen=_seen_unasked,
        next=_next_unasked,
        several="active outside all marks",
        desk=_desk_marks,
    ),
    Reason.NO_MARK: ReasonWords(
        seen=lambda need: f"{was_there(need)}, but {_unmarked(need)}",
        next=_next_mark,
        several="no mark says when",
        brief=_unmarked,
        desk=lambda todo: (
            f"If somebody noted when {listing(todo.roles)} was shown in the captures there are, mark those "
            "times: no new capture is needed for it."
        ),
    ),
    Reason.NOT_EXERCISED: ReasonWords(
        seen=_seen_not_exercised,
        next=_next_exercise,
        several="never moved",
        brief=_unmoved,
    ),
}
