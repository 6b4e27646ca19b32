"""The rules for a need, in the order in which they are reported. Read from top to bottom.

Each rule is a question about one case; where several hold, the first one is the need's reason. Rules that
look at frames answer "no" where there is nothing to look at: an earlier rule has said why by then.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

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
    return (
        _is_judged(case)
        and not case.is_captured
        and case.captures is not None
        and bool(case.captures.misdeclared)
    )


def no_capture(case: Case) -> bool:
    """No capture covers the network."""
    return _is_judged(case) and not case.is_captured and not wrong_tap(case)


def _is_judged(case: Case) -> bool:
    """A need that asks for a definition only is shown without a capture."""
    return case.has_signal and case.need.evidence != "defined"


# ---- message, length, available


def message_absent(case: Case) -> bool:
    """The network was captured and the message never came."""
    return case.is_captured and not case.seen.frames


def short_frame(case: Case) -> bool:
    """More than half of the message's frames are too short to hold the signal."""
    return 2 * case.seen.too_short > case.seen.frames


def not_available(case: Case) -> bool:
    """The message came and never held a value: only "no value", or its page was never selected."""
    seen = case.seen
    return bool(seen.frames) and not short_frame(case) and seen.unavailable == seen.carried


# ---- range, rate, counter


def out_of_range(case: Case) -> bool:
    """Over 1 % of the values lie outside the DBC's limits."""
    seen = case.seen
    return 100 * seen.out_of_range > seen.carried - seen.unavailable


def too_slow(case: Case) -> bool:
    """The 99th percentile of the gaps while awake is above what the part can bear."""
    if case.need.max_gap_ms is None or not case.seen.carried:
        return False
    gap_ns = case.seen.gaps.percentile_ns(99)
    return gap_ns is not None and gap_ns > round(case.need.max_gap_ms * 1e6)


def counter_frozen(case: Case) -> bool:
    """The rolling counter stands still over more than half of its steps."""
    return 2 * case.seen.still > case.seen.steps


def counter_jumps(case: Case) -> bool:
    """Over 1 % of the rolling counter's steps are not +1."""
    return 100 * case.seen.jumps > case.seen.steps


# ---- marks


def no_answer(case: Case) -> bool:
    """The role did not take the marked state in some mark."""
    return bool(case.seen.carried) and any(not mark.is_answered for mark in case.seen.marks)


def moves_unasked(case: Case) -> bool:
    """The role has marks, and took the active state outside all of them, in whichever capture."""
    return bool(case.seen.marks) and case.seen.outside > 0


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
    Rule(Reason.MESSAGE_ABSENT, message_absent, _ALL),
    Rule(Reason.SHORT_FRAME, short_frame, _ALL),
    Rule(Reason.NOT_AVAILABLE, not_available, _ALL),
    Rule(Reason.OUT_OF_RANGE, out_of_range, _ALL),
    Rule(Reason.TOO_SLOW, too_slow, _ALL),
    Rule(Reason.COUNTER_FROZEN, counter_frozen, _ALL),
    Rule(Reason.COUNTER_JUMPS, counter_jumps, _ALL),
    Rule(Reason.NO_ANSWER, no_answer, _MARKED),
    Rule(Reason.MOVES_UNASKED, moves_unasked, _MARKED),
    Rule(Reason.NO_MARK, no_mark, _ANSWERING),
    Rule(Reason.NOT_EXERCISED, not_exercised, _MOVING),
)

STATUS: Final = {
    Reason.OK: Status.SHOWN,
    Reason.NO_CAPTURE: Status.EXPECTED,
    Reason.WRONG_TAP: Status.EXPECTED,
    Reason.NO_MARK: Status.EXPECTED,
    Reason.NOT_EXERCISED: Status.EXPECTED,
    Reason.MOVES_UNASKED: Status.EXPECTED,
    Reason.OUT_OF_RANGE: Status.EXPECTED,
    Reason.COUNTER_JUMPS: Status.EXPECTED,
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

_LOCKABLE: Final = frozenset({Reason.MESSAGE_ABSENT, Reason.NOT_AVAILABLE})


def reasons(case: Case) -> tuple[Reason, ...]:
    """Every reason that holds, the one that decides first; () where the need is shown.

    A message that is absent, or holds no value, while the coding that unlocks it is not shown to be set
    is locked, not missing.
    """
    holding = (rule.reason for rule in RULES if case.need.evidence in rule.asked_by and rule.holds(case))
    return tuple(
        Reason.LOCKED if case.locked_by is not None and reason in _LOCKABLE else reason for reason in holding
    )


def evidence_of(case: Case) -> str:
    """How well the role is shown: none < defined < present < moves < answers."""
    if not case.has_signal:
        return "none"
    unfit = (message_absent, short_frame, not_available, out_of_range, too_slow)
    if not case.is_captured or any(rule(case) for rule in unfit):
        return "defined"
    if not case.has_moved:
        return "present"
    if not case.seen.marks or no_answer(case) or moves_unasked(case):
        return "moves"
    return "answers"
