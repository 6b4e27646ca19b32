"""All that is said of reasons of movement: whether the signal moved, and followed the marks."""

from __future__ import annotations

from collections.abc import Sequence
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
from netcheck.verdict import NeedResult, OtherByte, Reason
from netcheck.words import counted, listing, path_text, unique
from netcheck.work import SettleNeeds

MOST_MARKS: Final = 3  # named in one line
MOST_BYTES: Final = 3


def _seen_ok(need: NeedResult) -> str:
    seen = need.facts.seen
    if not need.facts.is_captured:
        return f"{need.title} is defined on {network_of(need)}; no capture needed"
    parts = [answered_marks(seen.marks)] if seen.marks else []
    return ", ".join([*parts, period_text(need), listened(need)])


def _seen_no_answer(need: NeedResult) -> str:
    marks = need.facts.seen.marks
    told = [_unanswered(mark) for mark in marks if not mark.is_answered]
    return f"{answered_marks(marks)} answered; not {listing(told, most=MOST_MARKS)}{_moved_instead(need)}"


def _unanswered(mark: MarkSeen) -> str:
    if not mark.valid:
        return f"{mark_text(mark)} (no valid frame there)"
    part = "in part: " if mark.is_partly else ""
    return f"{mark_text(mark)} ({part}{mark.in_state} of {mark.valid} frames in state)"


def mark_text(mark: MarkSeen) -> str:
    """``active 12–15 s in x.log``."""
    state = mark.state if mark.between is None else f"{mark.between[0]:g} to {mark.between[1]:g}"
    return f"{state} {mark.from_s:g}–{mark.to_s:g} s in {path_text(mark.file)}"


def answered_marks(marks: tuple[MarkSeen, ...]) -> str:
    return f"{sum(mark.is_answered for mark in marks)} of {counted(len(marks), 'mark')}"


_OTHER_PLACE: Final = (
    "compare the signal's place with a DBC of this vehicle, or correct it in a copy and plan again "
    "(netcheck find ranks the bits)."
)


def _next_no_answer(need: NeedResult) -> Advice:
    if need.facts.is_followed:
        if len(need.facts.seen.marks) > 1:
            return Advice(f"Other bits follow the marks: {_OTHER_PLACE}")
        second = "Mark a second exercise (after one mark, all that it moves follows)"
        return Advice(second, exercise_of(need), f"If they follow again, {_OTHER_PLACE}")
    return Advice(
        "Check the marks' times against what was done, then repeat with longer marks",
        exercise_of(need),
        "If it fails again, this signal is not what the vehicle file says.",
    )


def _desk_marks(todo: SettleNeeds) -> str:
    if todo.is_followed:
        return (
            f"Check where the DBC of {listing(todo.networks)} has {listing(todo.roles)}: other bits follow "
            f"{'its' if len(todo.roles) == 1 else 'their'} marks."
        )
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
    return _still(need) + _moved_instead(need)


def _still(need: NeedResult) -> str:
    value = _held(need)
    return f"it never moved: {value} throughout" if value else "it never moved"


def _briefly_unmoved(need: NeedResult) -> str:
    """After a reason that has told what moved instead: without it."""
    told = need.reason in {Reason.NO_ANSWER, Reason.SOME_ANSWERS}
    return _still(need) if told else _unmoved(need)


def _moved_instead(need: NeedResult) -> str:
    """``; byte 0 of this message changed 118 times, this signal's bits (byte 1) never: …``, or ""."""
    other = need.facts.other_bits
    if other is None or not other.is_doubt:
        return ""
    never = f"this signal's bits ({_bytes(other.own)}) never"
    moved = [byte for byte in other.moved if other.has_marks or byte.free]
    moved = sorted(moved, key=lambda byte: -(byte.changes or 0))[:MOST_BYTES]
    if moved:
        names = unique(name for byte in moved for name in byte.signals)
        part = "in part " if any(byte.free and byte.signals for byte in moved) else ""
        known = f" ({part}{listing(names, most=MOST_BYTES)} by the DBC)" if names else ""
        count = listing([f"{byte.changes:,}" for byte in moved])
        times = "once" if count == "1" else f"{count} times"
        never = f"{_bytes([byte.byte for byte in moved])} of this message{known} changed {times}, {never}"
    else:
        never = f"{never} changed"
    follow = f"; these bits follow the marks: {_followers(other.followers)}" if other.followers else ""
    return f"; {never}: the position may be wrong{follow}"


def _bytes(numbers: Sequence[int]) -> str:
    return f"{'byte' if len(numbers) == 1 else 'bytes'} {listing([str(number) for number in numbers])}"


def _followers(followers: Sequence[OtherByte]) -> str:
    """``byte 0 bit 4 of LeverStatus 0x100``."""
    told = []
    for byte in followers:
        bits = [str(bit) for bit in range(8) if byte.bits >> bit & 1]
        name = f"{byte.message} {byte.frame_id}" if byte.message else str(byte.frame_id)
        told.append(f"byte {byte.byte} {'bit' if len(bits) == 1 else 'bits'} {listing(bits)} of {name}")
    return listing(told, most=MOST_BYTES)


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
    other = need.facts.other_bits
    is_doubt = other is not None and other.is_doubt
    after = "If it stays still again, look for it in the bits that moved." if is_doubt else ""
    return Advice(f"Exercise it during a capture{and_mark}", exercise_of(need), after)


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
        brief=_briefly_unmoved,
    ),
}
