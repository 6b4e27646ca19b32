"""The rules for a need, in the order in which they are reported. Read from top to bottom.

Each rule is a question about one case; where several hold, the first one is the need's reason. Rules that
look at frames answer "no" where there is nothing to look at: an earlier rule has said why by then.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from netcheck.evidence import LEAST_CHANGES
from netcheck.records import dataclass
from netcheck.verdict._case import Case
from netcheck.verdict._model import Reason, Status

# ---- role, signal, network


def undefined_role(case: Case) -> bool:
    """The vehicle file has no entry of the role for this model year."""
    return case.source is None and not case.elsewhere


def undefined_signal(case: Case) -> bool:
    """The DBC lacks the message, the signal or the counter that the entry names."""
    return case.source is not None and not case.has_signal


def other_network(case: Case) -> bool:
    """The role is mapped, but not on the network the item is wired to."""
    return bool(case.elsewhere)


# ---- capture


def wrong_tap(case: Case) -> bool:
    """The job says a channel is this network, its traffic is not, and no other channel is."""
    if case.captures is None or case.is_captured:
        return False
    return _is_judged(case) and bool(case.captures.misdeclared)


def no_capture(case: Case) -> bool:
    """No capture covers the network."""
    return _is_judged(case) and not case.is_captured and not wrong_tap(case)


def doubtful_network(case: Case) -> bool:
    """A channel may be this network, but too few of its ids fit to trust what the DBC says.

    A role that moved and followed two marks or more is better evidence than ids.
    """
    if case.captures is None or not case.is_captured or not case.captures.is_doubtful:
        return False
    return not (case.has_moved and case.has_answered and len(case.seen.marks) >= 2)


def _is_judged(case: Case) -> bool:
    """A need that asks for a definition only is shown without a capture."""
    return case.has_signal and case.need.evidence != "defined"


# ---- message, length, available


def locked(case: Case) -> bool:
    """The message is absent or holds no value, and the coding that unlocks it is not shown to be set."""
    return case.locked_by is not None and (_never_came(case) or _has_no_value(case))


def message_absent(case: Case) -> bool:
    """The message never came, although a mark asked for it or its cycle time was long past."""
    return case.is_captured and not case.seen.frames and _was_due(case)


def short_frame(case: Case) -> bool:
    """More than half of the message's frames are too short to hold the signal."""
    return 2 * case.seen.too_short > case.seen.frames


def not_available(case: Case) -> bool:
    """The message came and never held a value: only "no value", or its page stayed away when it was due."""
    if not _has_no_value(case):
        return False
    return bool(case.seen.carried) or _was_due(case)


def never_used(case: Case) -> bool:
    """The message, or its page, never came, and nothing says that it should have: perhaps only when used."""
    return _never_came(case) and not _was_due(case)


def _has_no_value(case: Case) -> bool:
    seen = case.seen
    return bool(seen.frames) and not short_frame(case) and seen.unavailable == seen.carried


def _never_came(case: Case) -> bool:
    """Neither the message nor its page was seen."""
    return case.is_captured and not case.seen.carried and not short_frame(case)


def _was_due(case: Case) -> bool:
    """A mark of the role lies in a capture of the network, or it was awake for ten cycles of the message."""
    if case.seen.marks:
        return True
    message = case.source.message if case.source is not None else None
    cycle_ms = message.cycle_time_ms if message is not None else None
    awake_s = case.captures.awake_s if case.captures is not None else 0.0
    return bool(cycle_ms) and cycle_ms is not None and awake_s * 1000 >= 10 * cycle_ms


# ---- range, time and rate, counter


def out_of_range(case: Case) -> bool:
    """Over 1 % of the values lie outside the DBC's limits."""
    seen = case.seen
    return 100 * seen.out_of_range > seen.carried - seen.unavailable


def no_time(case: Case) -> bool:
    """The need asks for times, and no capture of the network has any."""
    need = case.need
    if case.captures is None or not case.is_captured or case.captures.has_times:
        return False
    return need.max_gap_ms is not None or need.max_delay_ms is not None or need.evidence == "answers"


def too_slow(case: Case) -> bool:
    """The 99th percentile of the gaps while awake is over a tenth above what the part accepts.

    A change of a signal that is sent at changes need not wait for the next frame.
    """
    need = case.need
    return bool(case.seen.carried) and (
        _is_slower(case, need.max_gap_ms)
        or (_is_slower(case, need.max_delay_ms) and _knows_changes(case) and not case.is_sent_at_changes)
    )


def delay_not_shown(case: Case) -> bool:
    """Sent seldom, and too few changes were seen to tell whether a change is sent at once."""
    return (
        bool(case.seen.carried)
        and _is_slower(case, case.need.max_delay_ms)
        and not _knows_changes(case)
        and not case.is_sent_at_changes
    )


def _knows_changes(case: Case) -> bool:
    return len(case.seen.change_gaps) >= LEAST_CHANGES


def _is_slower(case: Case, limit_ms: float | None) -> bool:
    gap_ns = case.seen.gaps.percentile_ns(99)
    return limit_ms is not None and gap_ns is not None and 10 * gap_ns > 11 * limit_ms * 1e6


def counter_frozen(case: Case) -> bool:
    """The rolling counter stands still over more than half of its steps."""
    return 2 * case.seen.counter.still > case.seen.counter.total


def counter_jumps(case: Case) -> bool:
    """Over 1 % of the rolling counter's steps are not +1, nor the constant step of a copy."""
    return not counter_frozen(case) and 100 * case.seen.counter.jumps > case.seen.counter.total


# ---- marks


def no_answer(case: Case) -> bool:
    """In no mark did the role take the marked state even once."""
    marks = case.seen.marks
    return bool(marks) and bool(case.seen.carried) and not any(m.is_answered or m.is_partly for m in marks)


def some_answers(case: Case) -> bool:
    """Some marks were followed, some not or only in part."""
    marks = case.seen.marks
    return bool(marks) and bool(case.seen.carried) and not case.has_answered and not no_answer(case)


def moves_unasked(case: Case) -> bool:
    """The role took the active state outside all marks, in a capture that has marks of it."""
    return case.seen.outside.frames > 0


def no_mark(case: Case) -> bool:
    """Answers are asked for and nothing was marked."""
    return bool(case.seen.carried) and not case.seen.marks


# ---- movement


def not_exercised(case: Case) -> bool:
    """The signal is there and never moved."""
    return bool(case.seen.valid) and not case.has_moved


@dataclass(frozen=True)
class Rule:
    """A reason, the question that decides it, and the needs it is asked for, by what they ask."""

    reason: Reason
    holds: Callable[[Case], bool]
    asked_by: frozenset[str]


_ALL: Final = frozenset({"defined", "present", "moves", "answers"})
_MARKED: Final = frozenset({"present", "moves", "answers"})
_MOVING: Final = frozenset({"moves", "answers"})
_ANSWERING: Final = frozenset({"answers"})

RULES: Final = (
    Rule(Reason.UNDEFINED_ROLE, undefined_role, _ALL),
    Rule(Reason.UNDEFINED_SIGNAL, undefined_signal, _ALL),
    Rule(Reason.OTHER_NETWORK, other_network, _ALL),
    Rule(Reason.WRONG_TAP, wrong_tap, _ALL),
    Rule(Reason.NO_CAPTURE, no_capture, _ALL),
    Rule(Reason.DOUBTFUL_NETWORK, doubtful_network, _MARKED),
    Rule(Reason.LOCKED, locked, _ALL),
    Rule(Reason.MESSAGE_ABSENT, message_absent, _ALL),
    Rule(Reason.SHORT_FRAME, short_frame, _ALL),
    Rule(Reason.NOT_AVAILABLE, not_available, _ALL),
    Rule(Reason.NOT_EXERCISED, never_used, _ALL),
    Rule(Reason.OUT_OF_RANGE, out_of_range, _ALL),
    Rule(Reason.NO_TIME, no_time, _MARKED),
    Rule(Reason.TOO_SLOW, too_slow, _ALL),
    Rule(Reason.DELAY_NOT_SHOWN, delay_not_shown, _ALL),
    Rule(Reason.COUNTER_FROZEN, counter_frozen, _ALL),
    Rule(Reason.COUNTER_JUMPS, counter_jumps, _ALL),
    Rule(Reason.NO_ANSWER, no_answer, _MARKED),
    Rule(Reason.SOME_ANSWERS, some_answers, _MARKED),
    Rule(Reason.MOVES_UNASKED, moves_unasked, _MARKED),
    Rule(Reason.NO_MARK, no_mark, _ANSWERING),
    Rule(Reason.NOT_EXERCISED, not_exercised, _MOVING),
)

STATUS: Final = {
    Reason.OK: Status.SHOWN,
    Reason.NO_CAPTURE: Status.EXPECTED,
    Reason.WRONG_TAP: Status.EXPECTED,
    Reason.DOUBTFUL_NETWORK: Status.EXPECTED,
    Reason.NO_TIME: Status.EXPECTED,
    Reason.NO_MARK: Status.EXPECTED,
    Reason.SOME_ANSWERS: Status.EXPECTED,
    Reason.DELAY_NOT_SHOWN: Status.EXPECTED,
    Reason.NOT_EXERCISED: Status.EXPECTED,
    Reason.MOVES_UNASKED: Status.EXPECTED,
    Reason.OUT_OF_RANGE: Status.EXPECTED,
    Reason.COUNTER_JUMPS: Status.EXPECTED,
    Reason.BY_WIRE: Status.SUPPLIED,
    Reason.BY_ITEM: Status.SUPPLIED,
    Reason.LOCKED: Status.AFTER_CODING,
    Reason.UNDEFINED_ROLE: Status.MISSING,
    Reason.UNDEFINED_SIGNAL: Status.MISSING,
    Reason.OTHER_NETWORK: Status.MISSING,
    Reason.MESSAGE_ABSENT: Status.MISSING,
    Reason.SHORT_FRAME: Status.MISSING,
    Reason.NOT_AVAILABLE: Status.MISSING,
    Reason.TOO_SLOW: Status.MISSING,
    Reason.COUNTER_FROZEN: Status.MISSING,
    Reason.NO_ANSWER: Status.MISSING,
}


def reasons(case: Case) -> tuple[Reason, ...]:
    """Every reason that holds, the one that decides first; () where the need is shown."""
    if case.captures is not None and case.captures.is_doubtful and case.need.evidence == "defined":
        return ()  # shown without a look at a capture that may be of another network
    holding = tuple(rule.reason for rule in RULES if case.need.evidence in rule.asked_by and rule.holds(case))
    if Reason.LOCKED in holding:  # absent or without a value, as is expected until it is coded
        return tuple(reason for reason in holding if reason not in _UNTIL_CODED)
    return holding


_UNTIL_CODED: Final = frozenset({Reason.MESSAGE_ABSENT, Reason.NOT_AVAILABLE, Reason.NOT_EXERCISED})


def evidence_of(case: Case) -> str:
    """How well the role is shown: none < defined < present < moves < answers."""
    if not case.has_signal:
        return "none"
    unfit = (
        doubtful_network,
        _never_came,
        short_frame,
        _has_no_value,
        out_of_range,
        too_slow,
        delay_not_shown,
    )
    if not case.is_captured or any(rule(case) for rule in unfit):
        return "defined"
    if no_time(case) and case.need.evidence in {"present", "moves"}:
        return "defined"
    if not case.has_moved:
        return "present"
    return "answers" if case.has_answered and not moves_unasked(case) else "moves"
