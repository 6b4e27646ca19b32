"""All words of a search: problems and notes of marks, why bits were put behind, what to do next."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from netcheck.find import (
    Asked,
    BehindReason,
    CandidateKind,
    FieldCandidate,
    FoundField,
    MarkNote,
    MarkProblem,
    NextExercise,
    NextKind,
)
from netcheck.words import counted

PROBLEM_WORDS: Final = {
    MarkProblem.NONE_OF_ROLE: "no mark says when it was done",
    MarkProblem.OUTSIDE: "all its marks lie outside the capture",
    MarkProblem.COVERS_ALL: "its marks cover the whole capture, so nothing shows when it was not done",
    MarkProblem.NO_TIMES: "the capture has no time stamps, so marks cannot be compared with it",
}
PROBLEM_REMEDIES: Final = {
    MarkProblem.NONE_OF_ROLE: "give marks of the role with --marks, or its times with --at FROM-TO",
    MarkProblem.OUTSIDE: "give times in seconds from the capture's first frame",
    MarkProblem.COVERS_ALL: "record again: 5 seconds without it before, between and after",
    MarkProblem.NO_TIMES: "record with a tool that writes a time stamp for each frame",
}
NOTE_WORDS: Final = {
    MarkNote.ROWS_JOINED: "marks that follow each other within 0.35 s count as one",
    MarkNote.CLIPPED: "a mark that reaches beyond the capture counts as far as the capture goes",
    MarkNote.LEFT_OUT: (
        "a mark outside the capture was left out: times count in seconds from its first frame"
    ),
    MarkNote.OVERLAP: (
        "marks overlap: what was done at the same time cannot be told apart. Record one after the other"
    ),
    MarkNote.NO_MARKS: "no mark says when it was done: what moved here and in no quiet capture is shown",
    MarkNote.ONE_ONLY: (
        "one mark only: many signals change once, so no candidate can be trusted. Record three presses"
    ),
}
BEHIND_WORDS: Final = {
    BehindReason.COUNTER: "counter",
    BehindReason.CHECKSUM: "checksum or random",
    BehindReason.QUANTITY: "quantity",
    BehindReason.NOISE: "changes all the time",
    BehindReason.AT_BORDERS: "moved only where the recording began or ended, as with ignition",
    BehindReason.IN_QUIET: "moved in a quiet capture, too",
    BehindReason.NOT_WITH_MARKS: "did not move with the marks",
}
KIND_WORDS: Final = {
    CandidateKind.STATE: "",
    CandidateKind.BLINKS: "blinks while active",
    CandidateKind.PRESENCE: "the message comes only while active",
}
NEXT_WORDS: Final = {
    NextKind.USE: "{field} stands clear. Confirm it with a second recording before you rely on it.",
    NextKind.NO_MOVEMENT: (
        "Nothing moved with the marks. Check the times, and that the tap is on the right network; then "
        "record the action three times, each for 2 seconds or more, with pauses of different length."
    ),
    NextKind.MORE_MARKS: (
        "The marks cannot tell the candidates apart. Record three more, held for different times (1, 3 and "
        "5 seconds) with pauses of different length, and note each one."
    ),
    NextKind.QUIET: (
        "Record 30 seconds in which nobody touches anything, and give that capture with --quiet: what moves "
        "in it is out."
    ),
    NextKind.CAUSE: (
        "{field} moves together with another candidate, one after the other. Record the control and what it "
        "switches apart: work the one without the other, such as with the ignition off."
    ),
    NextKind.TWINS: (
        "{field} moves just like the first one. Record other controls between the presses: what follows "
        "them, too, is out."
    ),
    NextKind.OTHERS: (
        "{field} also moves while other roles are marked. Record each control alone, one after the other, "
        "and mark every one."
    ),
    NextKind.NOTES: (
        "{field} also moved where no mark asked for it. If it was worked without a note, add these times to "
        "the marks; else record again with a note of every press."
    ),
    NextKind.MARKS: (
        "These moved only here, which says little. Record again and note when it was done, or let netcheck "
        "record --find ask for it; then search with these marks."
    ),
    NextKind.NOTHING_HERE: (
        "Nothing moved here that stood still in the quiet captures. Check that the tap is on the right "
        "network and that it was worked; then record again, three presses with a note of each."
    ),
}


def next_text(step: NextExercise) -> str:
    """What to record next, in a sentence or two."""
    return NEXT_WORDS[step.kind].format(field=place_text(step.about) if step.about else "It")


def place_text(field: FoundField) -> str:
    """``0x083 byte 0 bit 5``, ``0x2B4 byte 1 bits 0–2``, ``0x3A0 (whole message)``."""
    if field.is_presence:
        return f"{field.frame_id} (whole message)"
    if field.width == 1:
        return f"{field.frame_id} byte {field.byte} bit {field.bit}"
    if field.bit + field.width <= 8:
        return f"{field.frame_id} byte {field.byte} bits {field.bit}–{field.bit + field.width - 1}"
    order = f"{field.width} bits, {field.order}-endian" + (", signed" if field.is_signed else "")
    return f"{field.frame_id} from byte {field.byte} bit {field.bit}: {order}"


def problem_text(asked: Asked) -> str:
    """Why the marks cannot be used; "" where they can."""
    return f"{asked.role}: {PROBLEM_WORDS[asked.problem]}" if asked.problem else ""


def states_text(each: FieldCandidate) -> str:
    """``1 while marked, 0 else``."""
    if not each.active:
        return ""
    numbers = [
        ", ".join(map(str, values[:6])) + (" …" if len(values) > 6 else "")
        for values in (each.active, each.rest)
    ]
    if not each.edges:
        return f"{numbers[0]} at times, {numbers[1]} mostly"
    return f"{numbers[0]} while marked, {numbers[1]} otherwise" if each.rest else f"{numbers[0]} while marked"


def hits_text(each: FieldCandidate, marks: int) -> str:
    """How it follows the marks; without marks, when it was active."""
    if not marks:
        return f"active {counted(len(each.periods), 'time')}, at {_spans_text(each.periods)}"
    text = f"{each.followed} of {counted(marks, 'mark')}, {each.matched} of {counted(each.edges, 'edge')}"
    if abs(each.lag) >= 0.05:
        text += f", {abs(each.lag):.1f} s {'after' if each.lag > 0 else 'before'} the notes"
    return text


def _spans_text(spans: Sequence[tuple[float, float]]) -> str:
    shown = ", ".join(f"{begin:.1f}–{end:.1f} s" for begin, end in spans[:4])
    more = len(spans) - 4
    return shown + (f" and {more} more times" if more > 0 else "")


def unasked_text(each: FieldCandidate) -> str:
    """``also active at 17.3–17.9 s: pressed without a note?``."""
    shown = _spans_text(each.unasked)
    if each.in_others:
        return f"also active at {shown}; {each.in_others} of these in marks of other roles"
    return f"also active at {shown}: worked without a note?"
