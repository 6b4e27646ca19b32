"""All that is said of reasons of frames: whether they came, how often, and whether they hold values."""

from __future__ import annotations

from typing import Final

from netcheck.report._numbers import number, part_of
from netcheck.report._reason_parts import (
    Advice,
    ReasonWords,
    accepted_text,
    exercise_of,
    listened,
    message_of,
    network_of,
    one_network,
    was_there,
)
from netcheck.verdict import NeedResult, Reason
from netcheck.words import counted, listing, milliseconds


def _next_absent(need: NeedResult) -> Advice:
    return Advice(
        f"Check that {network_of(need)} was fully awake (terminal 15 on, the sender's function in use) and "
        "that this vehicle has the sending module",
        after="Capture again; if it stays away, the part needs another source.",
    )


def _seen_locked(need: NeedResult) -> str:
    what = "no frame" if not need.facts.seen.frames else 'only "no value"'
    return f"{what} of {message_of(need)} in {listened(need)}; it needs {unlock_text(need)}"


def unlock_text(need: NeedResult) -> str:
    unlock = need.facts.locked_by
    return f"{unlock.module}.{unlock.field} = {unlock.value}" if unlock is not None else "coding"


def _seen_short_frame(need: NeedResult) -> str:
    seen = need.facts.seen
    return (
        f"{part_of(seen.too_short, seen.frames)} frames of {message_of(need)} are too short to hold "
        f"{need.signal or 'the signal'}"
    )


def _seen_not_available(need: NeedResult) -> str:
    seen = need.facts.seen
    where = f"{message_of(need)}, {listened(need)}"
    if not seen.carried:
        return f"its page never came in {seen.frames:,} frames of {where}"
    return f'only "no value" in {seen.carried:,} frames of {where}'


def _seen_out_of_range(need: NeedResult) -> str:
    seen, (low, high) = need.facts.seen, need.facts.limits
    values = seen.carried - seen.unavailable
    limits = f"{number(low)} to {number(high)} {need.facts.unit}".strip()
    return (
        f"{part_of(seen.out_of_range, values)} values are outside the DBC's limits {limits}: "
        f"{number(seen.stray.low)} to {number(seen.stray.high)} seen"
    )


def _next_range(need: NeedResult) -> Advice:
    return Advice(
        f"Check that the DBC of {network_of(need)} fits this vehicle and model year before you trust "
        "anything it says of this message"
    )


def _seen_no_time(need: NeedResult) -> str:
    has_limit = need.max_gap_ms is not None or need.max_delay_ms is not None
    asked = [accepted_text(need)] if has_limit else []
    if need.asks == "answers":
        asked.append("answers to marks are asked for")
    return f"no capture of {network_of(need)} has time stamps, and {listing(asked)}"


def _seen_too_slow(need: NeedResult) -> str:
    gaps = need.facts.seen.gaps
    return (
        f"99 % of the gaps reach {milliseconds(gaps.percentile_ns(99))}; {accepted_text(need)} (half are "
        f"within {milliseconds(gaps.percentile_ns(50))}, the longest is {milliseconds(gaps.longest_ns)})"
    )


def _next_slow(need: NeedResult) -> Advice:
    places = "another network that carries it more often" if need.facts.wired else "a network that is faster"
    return Advice(f"Ask the part's maker what gap it accepts, or tap {places}")


def _seen_delay(need: NeedResult) -> str:
    seen = need.facts.seen
    gap, changes = milliseconds(seen.gaps.percentile_ns(99)), counted(len(seen.change_gaps), "change")
    return (
        f"{was_there(need)}, but 99 % of the gaps reach {gap}, the part accepts a change "
        f"{number(need.max_delay_ms)} ms late, and {changes} cannot tell whether a change is sent at once"
    )


def _seen_counter_frozen(need: NeedResult) -> str:
    counter = need.facts.seen.counter
    still = part_of(counter.still, counter.total)
    return f"{need.facts.counter or 'the counter'} stands still in {still} steps"


def _next_frozen(need: NeedResult) -> Advice:
    return Advice(
        f"Look for what repeats old frames of {message_of(need)}: a gateway that stands in for a silent "
        "sender, a simulator left connected",
        after="Capture again with the sender awake.",
    )


def _seen_counter_jumps(need: NeedResult) -> str:
    counter, name = need.facts.seen.counter, need.facts.counter or "the counter"
    steps = part_of(counter.jumps, counter.total)
    return f"{steps} steps of {name} are not +{counter.stride}"


def _next_counter(need: NeedResult) -> Advice:
    return Advice(
        "Capture again with nothing else plugged in, and watch the adapter's lost-frame count",
        after=f"If the jumps stay, look for a second sender of {message_of(need)}.",
    )


FRAME_REASONS: Final[dict[Reason, ReasonWords]] = {
    Reason.MESSAGE_ABSENT: ReasonWords(
        seen=lambda need: f"no frame of {message_of(need)} in {listened(need)}",
        next=_next_absent,
        several="their messages never came",
    ),
    Reason.LOCKED: ReasonWords(
        seen=_seen_locked,
        next=lambda need: Advice(
            f"Code {unlock_text(need)}, capture {network_of(need)} again and show it", exercise_of(need)
        ),
        several="they appear only after coding",
    ),
    Reason.SHORT_FRAME: ReasonWords(
        seen=_seen_short_frame,
        next=lambda need: Advice(
            f"Check that the DBC of {network_of(need)} fits this model year: it declares longer frames than "
            "were seen"
        ),
        several="frames too short",
        desk=lambda todo: (
            f"Check that the DBC of {one_network(todo)} is for model year {todo.year}: frames of "
            f"{listing(todo.messages)} are too short for {listing(todo.roles)}."
        ),
    ),
    Reason.NOT_AVAILABLE: ReasonWords(
        seen=_seen_not_available,
        next=lambda _: Advice(
            "The sender has no value to give: check that the function is fitted, coded and in working "
            "order, then capture again in use"
        ),
        several='only "no value" came',
    ),
    Reason.OUT_OF_RANGE: ReasonWords(
        seen=_seen_out_of_range,
        next=_next_range,
        several="values outside the DBC's limits",
        desk=lambda todo: (
            f"Check that the DBC of {one_network(todo)} fits this vehicle: values of {listing(todo.roles)} "
            "lie outside its limits, so nothing read with it is certain."
        ),
    ),
    Reason.NO_TIME: ReasonWords(
        seen=_seen_no_time,
        next=lambda need: Advice(
            f"Capture {network_of(need)} again with time stamps (candump -l, or a logger that writes them)",
            exercise_of(need),
        ),
        several="captured without time stamps",
    ),
    Reason.TOO_SLOW: ReasonWords(
        seen=_seen_too_slow,
        next=_next_slow,
        several="too slow for the part",
        desk=lambda todo: (
            f"Choose a part that accepts {listing(todo.roles)} at the rate seen, or a tap where it comes "
            "more often."
        ),
    ),
    Reason.DELAY_NOT_SHOWN: ReasonWords(
        seen=_seen_delay,
        next=lambda need: Advice("Repeat the exercise four times in one capture", exercise_of(need)),
        several="too few changes to tell how late they come",
    ),
    Reason.COUNTER_FROZEN: ReasonWords(
        seen=_seen_counter_frozen, next=_next_frozen, several="their counters stand still"
    ),
    Reason.COUNTER_JUMPS: ReasonWords(
        seen=_seen_counter_jumps, next=_next_counter, several="their counters jump"
    ),
}
