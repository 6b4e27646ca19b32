"""What is said about a need: what was seen, in numbers, and what to do next."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from netcheck.evidence import MarkSeen, Observation
from netcheck.network import FrameId
from netcheck.plan._case import Case
from netcheck.plan._model import Reason
from netcheck.plan._sources import Source
from netcheck.plan._words import clause, counted, listing

MOST_MARKS: Final = 3  # named in one line


def seen_text(case: Case, reason: Reason) -> str:
    """What was seen that makes this reason hold; a clause without a full stop."""
    return _SEEN[reason](case)


def next_text(case: Case, reason: Reason) -> str:
    """What to do about it, one or two sentences; "" where nothing is to be done."""
    return _NEXT[reason](case)


# ---------------------------------------------------------------------------- numbers


def milliseconds(gap_ns: int | None) -> str:
    """``100 ms``, ``2.5 ms``, ``4.2 s``; a question mark where there is none."""
    if gap_ns is None:
        return "? ms"
    if gap_ns >= 10_000_000_000:
        return f"{gap_ns / 1e9:.0f} s"
    if gap_ns >= 2_000_000_000:
        return f"{gap_ns / 1e9:.1f} s"
    return f"{gap_ns / 1e6:.0f} ms" if gap_ns >= 10_000_000 else f"{gap_ns / 1e6:.1f} ms"


def share(part: int, whole: int) -> str:
    """``12 of 1,204 (1.0 %)``."""
    return f"{part:,} of {whole:,} ({100 * part / whole:.1f} %)" if whole else f"{part:,} of 0"


def _number(value: float | None) -> str:
    return "?" if value is None else f"{value:.6g}"


def listened(case: Case) -> str:
    """``92 s on can0``; several channels or captures together."""
    tap = case.tap
    if tap is None or not tap.heard:
        return "no capture"
    seconds = tap.seconds
    length = f"{seconds:.0f} s" if seconds >= 10 else f"{seconds:.1f} s"
    names = tuple(dict.fromkeys(heard.channel.name for heard in tap.heard))
    files = tuple(dict.fromkeys(heard.file for heard in tap.heard))
    more = f" in {len(files)} captures" if len(files) > 1 else ""
    return f"{length} on {listing(names, most=3)}{more}"


def _message(case: Case) -> str:
    source = case.source
    if source is None:
        return "its message"
    if source.message is None:
        return source.entry.message
    return f"{source.message.name} ({FrameId(source.message.can_id, source.message.is_extended)})"


def _network(case: Case) -> str:
    return case.source.network if case.source is not None else case.network or "the vehicle"


def _period(seen: Observation) -> str:
    return f"every {milliseconds(seen.gaps.percentile_ns(50))}"


def _marks(marks: tuple[MarkSeen, ...]) -> str:
    return f"{sum(mark.is_answered for mark in marks)} of {counted(len(marks), 'mark')}"


def _exercise(case: Case) -> str:
    """The exercise of the retrofit file, ready to follow a colon."""
    todo = [clause(exercise.do) for exercise in case.exercises]
    return f": {todo[0]}" if todo else ""


# ---------------------------------------------------------------------------- what was seen


def _seen_ok(case: Case) -> str:
    seen = case.seen
    if not case.is_captured:
        return f"{case.source.title if case.source else ''} is defined on {_network(case)}; no capture needed"
    parts = [f"{_marks(seen.marks)}"] if seen.marks else []
    parts.append(_period(seen))
    parts.append(listened(case))
    return ", ".join(parts)


def _seen_undefined_role(case: Case) -> str:
    return f"the vehicle file maps no {case.need.role} for this model year"


def _seen_undefined_signal(case: Case) -> str:
    lacks = case.source.lacks if case.source is not None else "the signal"
    return f"the DBC of {_network(case)} has no {lacks}"


def _seen_other_network(case: Case) -> str:
    places = listing(
        [f"{source.network} ({source.title}{_too_rare(case, source)})" for source in case.elsewhere]
    )
    return f"not on {case.network}, where the part is wired; it is on {places}"


def _too_rare(case: Case, source: Source) -> str:
    """A warning where the DBC's cycle time there is longer than the gap the part can bear."""
    cycle_ms = source.message.cycle_time_ms if source.message is not None else None
    if cycle_ms is None or case.need.max_gap_ms is None or cycle_ms <= case.need.max_gap_ms:
        return ""
    return f", by its DBC every {cycle_ms:.0f} ms, and the part bears gaps of {case.need.max_gap_ms:.0f} ms"


def _seen_no_capture(case: Case) -> str:
    return f"no capture of {_network(case)}, so {case.source.title if case.source else ''} is only defined"


def _seen_wrong_tap(case: Case) -> str:
    uses = case.tap.mistaken if case.tap is not None else ()
    told = [f"{use.channel} of {use.file} is not {use.declared} as the job says: {use.text}" for use in uses]
    return "; ".join(told)


def _seen_message_absent(case: Case) -> str:
    return f"no frame of {_message(case)} in {listened(case)}"


def _seen_short_frame(case: Case) -> str:
    seen = case.seen
    return (
        f"{share(seen.too_short, seen.frames)} frames of {_message(case)} are too short to hold "
        f"{case.source.entry.signal if case.source else 'the signal'}"
    )


def _seen_not_available(case: Case) -> str:
    seen = case.seen
    if not seen.carried:
        return f"its page never came in {seen.frames:,} frames of {_message(case)}, {listened(case)}"
    return f'only "no value" in {seen.carried:,} frames of {_message(case)}, {listened(case)}'


def _seen_out_of_range(case: Case) -> str:
    seen, signal = case.seen, case.source.signal if case.source is not None else None
    values = seen.carried - seen.unavailable
    limits = f"{_number(signal.minimum)} to {_number(signal.maximum)} {signal.unit}".strip() if signal else ""
    return (
        f"{share(seen.out_of_range, values)} values are outside the DBC's limits {limits}: "
        f"{_number(seen.stray.low)} to {_number(seen.stray.high)} seen"
    )


def _seen_too_slow(case: Case) -> str:
    gaps = case.seen.gaps
    return (
        f"99 % of the gaps reach {milliseconds(gaps.percentile_ns(99))}, the part can bear "
        f"{_number(case.need.max_gap_ms)} ms (half are within {milliseconds(gaps.percentile_ns(50))}, "
        f"the longest is {milliseconds(gaps.longest_ns)})"
    )


def _counter_name(case: Case) -> str:
    return (case.source.entry.counter if case.source is not None else None) or "the counter"


def _seen_counter_frozen(case: Case) -> str:
    return f"{_counter_name(case)} stands still in {share(case.seen.still, case.seen.steps)} steps"


def _seen_counter_jumps(case: Case) -> str:
    return f"{share(case.seen.jumps, case.seen.steps)} steps of {_counter_name(case)} are not +1"


def _seen_no_answer(case: Case) -> str:
    failed = [mark for mark in case.seen.marks if not mark.is_answered]
    told = [_unanswered(mark) for mark in failed]
    return f"{_marks(case.seen.marks)} answered; not {listing(told, most=MOST_MARKS)}"


def _unanswered(mark: MarkSeen) -> str:
    if not mark.valid:
        return f"{mark.label} (no valid frame there)"
    return f"{mark.label} ({mark.in_state} of {mark.valid} frames in state)"


def _seen_moves_unasked(case: Case) -> str:
    frames = counted(case.seen.outside, "frame")
    return f"active in {frames} outside all marks, first at {case.seen.first_outside}"


def _seen_no_mark(case: Case) -> str:
    return f"there, {_period(case.seen)}, {listened(case)}, but no mark says when it was {_wanted(case)}"


def _wanted(case: Case) -> str:
    return "active" if case.has_active_states else "exercised"


def _seen_not_exercised(case: Case) -> str:
    seen = case.seen
    value = _held(case)
    told = f"there, {_period(seen)}, {listened(case)}, but it never moved"
    return f"{told}: {value} throughout" if value else told


def _held(case: Case) -> str:
    """The one value it held, by label where it has one."""
    seen, signal = case.seen, case.source.signal if case.source is not None else None
    if signal is None or seen.raw.low is None or seen.raw.differ:
        return (
            "no other state than active" if seen.active else "never active" if case.has_active_states else ""
        )
    label = signal.labels.get(int(seen.raw.low)) if float(seen.raw.low).is_integer() else None
    if label is not None:
        return f"{label} ({int(seen.raw.low)})"
    return f"{_number(seen.value.low)} {signal.unit}".strip()


def _seen_locked(case: Case) -> str:
    what = "no frame" if not case.seen.frames else 'only "no value"'
    return f"{what} of {_message(case)} in {listened(case)}; it needs {case.locked_by}"


def _seen_by_item(case: Case) -> str:
    return f"another item of the job sends it on {case.network or 'the vehicle'}"


_SEEN: Final[dict[Reason, Callable[[Case], str]]] = {
    Reason.OK: _seen_ok,
    Reason.NO_CAPTURE: _seen_no_capture,
    Reason.WRONG_TAP: _seen_wrong_tap,
    Reason.NO_MARK: _seen_no_mark,
    Reason.NOT_EXERCISED: _seen_not_exercised,
    Reason.MOVES_UNASKED: _seen_moves_unasked,
    Reason.OUT_OF_RANGE: _seen_out_of_range,
    Reason.COUNTER_JUMPS: _seen_counter_jumps,
    Reason.BY_ITEM: _seen_by_item,
    Reason.LOCKED: _seen_locked,
    Reason.UNDEFINED_ROLE: _seen_undefined_role,
    Reason.UNDEFINED_SIGNAL: _seen_undefined_signal,
    Reason.OTHER_NETWORK: _seen_other_network,
    Reason.MESSAGE_ABSENT: _seen_message_absent,
    Reason.SHORT_FRAME: _seen_short_frame,
    Reason.NOT_AVAILABLE: _seen_not_available,
    Reason.TOO_SLOW: _seen_too_slow,
    Reason.COUNTER_FROZEN: _seen_counter_frozen,
    Reason.NO_ANSWER: _seen_no_answer,
}


# ---------------------------------------------------------------------------- what to do next


def _next_capture(case: Case) -> str:
    return f"Capture {_network(case)} and show it there{_exercise(case)}."


def _next_wrong_tap(case: Case) -> str:
    return (
        f"Find the pair of {_network(case)}, capture it, or correct the channel in the job file if the "
        "capture is of another network."
    )


def _next_mark(case: Case) -> str:
    return f"Repeat the exercise and mark from when to when{_exercise(case)}."


def _next_exercise(case: Case) -> str:
    return f"Exercise it during a capture and mark it{_exercise(case)}."


def _next_unasked(case: Case) -> str:
    return (
        "Compare the times with what was done: correct the marks if they are wrong; if not, another signal "
        f"may be behind this role. Repeat with marks{_exercise(case)}."
    )


def _next_range(case: Case) -> str:
    return (
        f"Check that the DBC of {_network(case)} fits this vehicle and model year before trusting anything "
        "it says of this message."
    )


def _next_counter(case: Case) -> str:
    return (
        "Capture again with nothing else plugged in and the adapter's lost-frame count in view. If the jumps "
        f"stay, look for a second sender of {_message(case)}."
    )


def _next_frozen(case: Case) -> str:
    return (
        f"Look for what repeats old frames of {_message(case)}: a gateway that substitutes a silent sender, "
        "a simulator left connected. Capture again with the sender awake."
    )


def _next_nothing(case: Case) -> str:
    return ""


def _next_by_item(case: Case) -> str:
    return "Prove it after both parts are fitted."


def _next_locked(case: Case) -> str:
    return f"Code {case.locked_by}, capture {_network(case)} again and show it{_exercise(case)}."


def _next_undefined_role(case: Case) -> str:
    return (
        "If this model year has the signal, map the role in the vehicle file; if not, the part needs another "
        "source for it, such as a wire."
    )


def _next_undefined_signal(case: Case) -> str:
    return f"Correct the entry in the vehicle file, or give a DBC of {_network(case)} that has it."


def _next_other_network(case: Case) -> str:
    where = listing(tuple(dict.fromkeys(source.network for source in case.elsewhere)), last="or")
    return f"Tap {where} for this part if it can be reached, or choose a part that works there."


def _next_absent(case: Case) -> str:
    return (
        f"Check that {_network(case)} was fully awake (terminal 15 on, the sender's function in use) and "
        "that this vehicle has the sending module. Capture again; if it stays away, the part needs another "
        "source."
    )


def _next_short(case: Case) -> str:
    return (
        f"Check that the DBC of {_network(case)} fits this model year: its frames are shorter than it says."
    )


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
