"""What to do about a need that is not shown."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from netcheck.verdict._case import Case
from netcheck.verdict._model import Reason
from netcheck.verdict._texts import message_name, network_name, too_rare
from netcheck.words import clause, listing


def next_text(case: Case, reason: Reason) -> str:
    """What to do about it, one or two sentences; "" where nothing is to be done."""
    return _NEXT[reason](case)


def _exercise(case: Case) -> str:
    """The exercise of the retrofit file, ready to follow a colon."""
    todo = [clause(exercise.do) for exercise in case.exercises]
    return f": {todo[0]}" if todo else ""


def _next_capture(case: Case) -> str:
    return f"Capture {network_name(case)} and show it there{_exercise(case)}."


def _next_wrong_tap(case: Case) -> str:
    return (
        f"Find the pair of {network_name(case)}, capture it, or correct the channel in the job file if the "
        "capture is of another network."
    )


def _next_mark(case: Case) -> str:
    again = "Repeat the exercise and mark" if case.exercises else "Exercise it and mark"
    return f"{again} from when to when{_exercise(case)}."


def _next_exercise(case: Case) -> str:
    and_mark = " and mark it" if case.need.evidence == "answers" else ""
    return f"Exercise it during a capture{and_mark}{_exercise(case)}."


def _next_unasked(case: Case) -> str:
    return (
        "Compare the times with what was done: correct the marks if they are wrong; if not, another signal "
        f"may be behind this role. Repeat with marks{_exercise(case)}."
    )


def _next_range(case: Case) -> str:
    return (
        f"Check that the DBC of {network_name(case)} fits this vehicle and model year before trusting "
        "anything it says of this message."
    )


def _next_counter(case: Case) -> str:
    return (
        "Capture again with nothing else plugged in and the adapter's lost-frame count in view. If the jumps "
        f"stay, look for a second sender of {message_name(case)}."
    )


def _next_frozen(case: Case) -> str:
    return (
        f"Look for what repeats old frames of {message_name(case)}: a gateway that stands in for a silent "
        "sender, a simulator left connected. Capture again with the sender awake."
    )


def _next_nothing(case: Case) -> str:
    return ""


def _next_by_item(case: Case) -> str:
    return "Prove it after both parts are fitted."


def _next_locked(case: Case) -> str:
    return f"Code {case.locked_by}, capture {network_name(case)} again and show it{_exercise(case)}."


def _next_undefined_role(case: Case) -> str:
    slip = " (or correct the name in the retrofit file)" if case.near else ""
    return (
        f"If this model year has the signal, map the role in the vehicle file{slip}; if not, the part needs "
        "another source for it, such as a wire."
    )


def _next_undefined_signal(case: Case) -> str:
    role, network = case.need.role, network_name(case)
    return f"Correct role.{role} in the vehicle file, or give a DBC of {network} that has it."


def _next_other_network(case: Case) -> str:
    often = [source for source in case.elsewhere if not too_rare(case, source)]
    if not often:
        return "The part needs another source for it, such as a wire of its own, or must bear longer gaps."
    where = listing(tuple(dict.fromkeys(source.network for source in often)), last="or")
    return (
        f"Wire the part to {where} and say so in the job file, if that can be reached and has the rest that "
        f"it needs, or choose a part that takes what it needs from {case.network}."
    )


def _next_absent(case: Case) -> str:
    return (
        f"Check that {network_name(case)} was fully awake (terminal 15 on, the sender's function in use) and "
        "that this vehicle has the sending module. Capture again; if it stays away, the part needs another "
        "source."
    )


def _next_short(case: Case) -> str:
    return f"Check that the DBC of {network_name(case)} fits this model year: it says longer frames."


def _next_unavailable(case: Case) -> str:
    return (
        "The sender has no value to give: check that the function is fitted, coded and in working order, "
        "then capture again in use."
    )


def _next_slow(case: Case) -> str:
    places = "another network that carries it more often" if case.network else "a network that is faster"
    return f"Ask the part's maker what gap it bears, or tap {places}."


def _next_no_answer(case: Case) -> str:
    return (
        "Check the marks' times against what was done, then repeat with longer marks"
        f"{_exercise(case)}. If it fails again, this signal is not what the vehicle file says."
    )


_NEXT: Final[dict[Reason, Callable[[Case], str]]] = {
    Reason.OK: _next_nothing,
    Reason.NO_CAPTURE: _next_capture,
    Reason.WRONG_TAP: _next_wrong_tap,
    Reason.NO_MARK: _next_mark,
    Reason.NOT_EXERCISED: _next_exercise,
    Reason.MOVES_UNASKED: _next_unasked,
    Reason.OUT_OF_RANGE: _next_range,
    Reason.COUNTER_JUMPS: _next_counter,
    Reason.BY_ITEM: _next_by_item,
    Reason.LOCKED: _next_locked,
    Reason.UNDEFINED_ROLE: _next_undefined_role,
    Reason.UNDEFINED_SIGNAL: _next_undefined_signal,
    Reason.OTHER_NETWORK: _next_other_network,
    Reason.MESSAGE_ABSENT: _next_absent,
    Reason.SHORT_FRAME: _next_short,
    Reason.NOT_AVAILABLE: _next_unavailable,
    Reason.TOO_SLOW: _next_slow,
    Reason.COUNTER_FROZEN: _next_frozen,
    Reason.NO_ANSWER: _next_no_answer,
}
