"""All that is said of a need's reason, in one place: one entry of ``REASONS`` for each.

A new reason needs its entry here and nothing else in this room; a test holds that none is missing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from netcheck.evidence import MarkSeen
from netcheck.report._numbers import be, it_has, number, part_of
from netcheck.verdict import ChannelUse, Elsewhere, NeedResult, Reason, Status
from netcheck.words import clause, counted, listing, milliseconds, sentence
from netcheck.work import SettleNeeds

MOST_MARKS: Final = 3  # named in one line

STATUS_WORDS: Final = {
    Status.MISSING: "missing",
    Status.EXPECTED: "expected",
    Status.AFTER_CODING: "after coding",
    Status.SUPPLIED: "supplied",
    Status.SHOWN: "shown",
}


@dataclass(frozen=True)
class Advice:
    """What to do about a need. exercise: what the retrofit file says to do, after ``text``; "" if nothing.

    after: what follows the exercise
    """

    text: str = ""
    exercise: str = ""
    after: str = ""

    def __str__(self) -> str:
        whole = sentence(f"{self.text}: {self.exercise}" if self.exercise else self.text)
        return f"{whole} {self.after}".strip()


@dataclass(frozen=True)
class ReasonWords:
    """What is said of one reason.

    seen:    what was seen that makes it hold: a clause without a full stop
    next:    what to do about it
    brief:   ``seen`` after another reason that has said how often and where it is; None: the same
    several: why several roles together have their status, in brackets
    desk:    what a desk can do about it, if anything
    """

    seen: Callable[[NeedResult], str]
    next: Callable[[NeedResult], Advice]
    several: str
    brief: Callable[[NeedResult], str] | None = None
    desk: Callable[[SettleNeeds], str] | None = None


def seen_text(need: NeedResult) -> str:
    """What was seen, in numbers: a clause without a full stop."""
    return REASONS[need.reason].seen(need)


def also_lines(need: NeedResult) -> list[str]:
    """Further reasons that hold: ``no-mark: no mark says when it was active``."""
    return [f"{reason}: {(REASONS[reason].brief or REASONS[reason].seen)(need)}" for reason in need.also]


def advice(need: NeedResult) -> Advice:
    """What to do about a need."""
    return REASONS[need.reason].next(need)


def need_text(need: NeedResult) -> str:
    """What was seen, what else holds and what to do, as one paragraph."""
    seen = seen_text(need)
    parts = (
        sentence(seen[:1].upper() + seen[1:]),
        *(sentence(f"Also {line}") for line in also_lines(need)),
        str(advice(need)),
    )
    return " ".join(part for part in parts if part)


def identity_text(use: ChannelUse) -> str:
    """``61 of 64 ids fit the DBC of comfort, 2 that of drive``."""
    if use.is_diagnostics_only:
        return "it carries diagnostics only"
    if not use.candidates:
        return f"none of its {use.ids} ids is in a DBC of this vehicle with frames as long as it declares"
    first, *rest = use.candidates
    text = f"{first.explained} of {use.ids} ids fit the DBC of {first.network}"
    return text + "".join(f", {other.explained} that of {other.network}" for other in rest)


def longer_gaps(need: NeedResult) -> str:
    """``1 of 451 gaps over 250 ms, up to 15 s``; "" where none is longer than the part accepts."""
    if not need.longer_gaps:
        return ""
    gaps = need.facts.seen.gaps
    over = f"{need.longer_gaps:,} of {len(gaps):,} gaps over {number(need.max_gap_ms)} ms"
    return f"{over}, up to {milliseconds(gaps.longest_ns)}"


# ---------------------------------------------------------------------------- parts of sentences


def _network(need: NeedResult) -> str:
    return need.network or "the vehicle"


def _message(need: NeedResult) -> str:
    """``SelectorStatus (0x2A0)``."""
    name = need.message or "its message"
    return f"{name} ({need.facts.frame_id})" if need.facts.frame_id is not None else name


def _listened(need: NeedResult) -> str:
    """``92 s on can0``; several channels or captures together."""
    facts = need.facts
    if not facts.is_captured:
        return "no capture"
    length = f"{facts.seconds:.0f} s" if facts.seconds >= 10 else f"{facts.seconds:.1f} s"
    more = f" in {len(facts.files)} captures" if len(facts.files) > 1 else ""
    return f"{length} on {listing(facts.channels, most=3)}{more}"


def _period(need: NeedResult) -> str:
    """How often it came; also gaps longer than the part accepts, where they were too few to count."""
    gap_ns = need.facts.seen.gaps.percentile_ns(50)
    if gap_ns is None:
        return "no times"
    text = f"every {milliseconds(gap_ns)}"
    if need.facts.is_sent_at_changes:
        text += " and at changes"
    longer = longer_gaps(need)
    return f"{text} ({longer})" if longer else text


def _marks(marks: tuple[MarkSeen, ...]) -> str:
    return f"{sum(mark.is_answered for mark in marks)} of {counted(len(marks), 'mark')}"


def _there(need: NeedResult) -> str:
    return f"there, {_period(need)}, {_listened(need)}"


def _unlock(need: NeedResult) -> str:
    unlock = need.facts.locked_by
    return f"{unlock.module}.{unlock.field} = {unlock.value}" if unlock is not None else "coding"


def _exercise(need: NeedResult) -> str:
    return clause(need.facts.exercises[0]) if need.facts.exercises else ""


# ---------------------------------------------------------------------------- what was seen


def _seen_ok(need: NeedResult) -> str:
    seen = need.facts.seen
    if not need.facts.is_captured:
        return f"{need.title} is defined on {_network(need)}; no capture needed"
    parts = [_marks(seen.marks)] if seen.marks else []
    return ", ".join([*parts, _period(need), _listened(need)])


def _seen_undefined_role(need: NeedResult) -> str:
    return f"the vehicle file maps no {need.role} for this model year{it_has(need.facts.similar)}"


def _seen_undefined_signal(need: NeedResult) -> str:
    lacks = need.facts.lacks
    if lacks is None:
        return f"the DBC of {_network(need)} lacks the signal"
    where = f" in {lacks.message}" if lacks.message else ""
    return f"the DBC of {_network(need)} has no {lacks.what} {lacks.name}{where}{it_has(lacks.similar)}"


def _seen_other_network(need: NeedResult) -> str:
    places = listing([_place(entry, need) for entry in need.facts.elsewhere])
    if need.used_by is not None:
        return f"not on {need.facts.wired}, where module {need.used_by} uses it; it is on {places}"
    return f"not on {need.facts.wired}, where the part is wired; it is on {places}"


def _place(entry: Elsewhere, need: NeedResult) -> str:
    rare = ""
    if entry.cycle_ms is not None:
        rare = f", by its DBC every {entry.cycle_ms:.0f} ms, and {_limits(need)}"
    return f"{entry.network} ({entry.title}{rare})"


def _seen_wrong_tap(need: NeedResult) -> str:
    told = [
        f"{use.channel} of {use.file} is not {use.declared} as the job says: {identity_text(use)}"
        for use in need.facts.misdeclared
    ]
    return "; ".join(told)


def _seen_not_available(need: NeedResult) -> str:
    seen = need.facts.seen
    where = f"{_message(need)}, {_listened(need)}"
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


def _seen_too_slow(need: NeedResult) -> str:
    gaps = need.facts.seen.gaps
    return (
        f"99 % of the gaps reach {milliseconds(gaps.percentile_ns(99))}; {_limits(need)} (half are within "
        f"{milliseconds(gaps.percentile_ns(50))}, the longest is {milliseconds(gaps.longest_ns)})"
    )


def _limits(need: NeedResult) -> str:
    """``the part accepts gaps of 500 ms and a change 300 ms late``."""
    parts = []
    if need.max_gap_ms is not None:
        parts.append(f"gaps of {number(need.max_gap_ms)} ms")
    if need.max_delay_ms is not None:
        parts.append(f"a change {number(need.max_delay_ms)} ms late")
    return f"the part accepts {listing(parts)}"


def _seen_delay(need: NeedResult) -> str:
    seen = need.facts.seen
    gap, changes = milliseconds(seen.gaps.percentile_ns(99)), counted(len(seen.change_gaps), "change")
    return (
        f"{_there(need)}, but 99 % of the gaps reach {gap}, the part accepts a change "
        f"{number(need.max_delay_ms)} ms late, and {changes} cannot tell whether a change is sent at once"
    )


def _seen_no_time(need: NeedResult) -> str:
    has_limit = need.max_gap_ms is not None or need.max_delay_ms is not None
    asked = [_limits(need)] if has_limit else []
    if need.asks == "answers":
        asked.append("answers to marks are asked for")
    return f"no capture of {_network(need)} has time stamps, and {listing(asked)}"


def _seen_doubtful(need: NeedResult) -> str:
    told = [f"{use.channel} of {use.file}: {identity_text(use)}" for use in need.facts.doubtful]
    return f"whether that is {_network(need)} is doubtful ({'; '.join(told)})"


def _seen_no_capture(need: NeedResult) -> str:
    if need.facts.diagnostics:
        where = listing([f"{use.channel} of {use.file}" for use in need.facts.diagnostics])
        return f"diagnostics only on {where}, so {need.title} is only defined"
    return f"no capture of {_network(need)}, so {need.title} is only defined"


def _seen_by_wire(need: NeedResult) -> str:
    wire = need.facts.wire
    if wire is None:
        return "by a wire of its own"
    told = [text for text in (wire.expect, f"fuse {wire.fuse}" if wire.fuse else "") if text]
    return f"by a wire of its own from {wire.from_}" + (f" ({'; '.join(told)})" if told else "")


def _seen_not_exercised(need: NeedResult) -> str:
    seen = need.facts.seen
    if not seen.carried:
        what = "its page" if seen.frames else _message(need)
        return f"{what} never came in {_listened(need)}; it may be sent only when used"
    return f"{_there(need)}, but {_unmoved(need)}"


def _seen_counter_frozen(need: NeedResult) -> str:
    counter = need.facts.seen.counter
    still = part_of(counter.still, counter.total)
    return f"{need.facts.counter or 'the counter'} stands still in {still} steps"


def _seen_counter_jumps(need: NeedResult) -> str:
    counter, name = need.facts.seen.counter, need.facts.counter or "the counter"
    steps = part_of(counter.jumps, counter.total)
    return f"{steps} steps of {name} are not +{counter.stride}"


def _seen_no_answer(need: NeedResult) -> str:
    marks = need.facts.seen.marks
    told = [_unanswered(mark) for mark in marks if not mark.is_answered]
    return f"{_marks(marks)} answered; not {listing(told, most=MOST_MARKS)}"


def mark_text(mark: MarkSeen) -> str:
    """``active 12–15 s in x.log``."""
    state = mark.state if mark.between is None else f"{mark.between[0]:g} to {mark.between[1]:g}"
    return f"{state} {mark.from_s:g}–{mark.to_s:g} s in {mark.file}"


def _unanswered(mark: MarkSeen) -> str:
    if not mark.valid:
        return f"{mark_text(mark)} (no valid frame there)"
    part = "in part: " if mark.is_partly else ""
    return f"{mark_text(mark)} ({part}{mark.in_state} of {mark.valid} frames in state)"


def _seen_unasked(need: NeedResult) -> str:
    outside = need.facts.seen.outside
    first = f", first at {outside.first[0]:.1f} s in {outside.first[1]}" if outside.first is not None else ""
    return f"active in {counted(outside.frames, 'frame')} outside all marks{first}"


def _unmarked(need: NeedResult) -> str:
    return f"no mark says when it was {'active' if need.facts.has_active_states else 'exercised'}"


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


def _seen_locked(need: NeedResult) -> str:
    what = "no frame" if not need.facts.seen.frames else 'only "no value"'
    return f"{what} of {_message(need)} in {_listened(need)}; it needs {_unlock(need)}"


def _seen_by_item(need: NeedResult) -> str:
    return f"{listing(need.facts.suppliers)} sends it on {need.facts.supplied_on}"


def _seen_short_frame(need: NeedResult) -> str:
    seen = need.facts.seen
    return (
        f"{part_of(seen.too_short, seen.frames)} frames of {_message(need)} are too short to hold "
        f"{need.signal or 'the signal'}"
    )


# ---------------------------------------------------------------------------- what to do


def _next_wrong_tap(need: NeedResult) -> Advice:
    return Advice(
        f"Find the pair of {_network(need)} and capture it, or correct the channel in the job file if the "
        "capture is of another network"
    )


def _next_mark(need: NeedResult) -> Advice:
    again = "Repeat the exercise and mark" if need.facts.exercises else "Exercise it and mark"
    return Advice(f"{again} from when to when", _exercise(need))


def _next_exercise(need: NeedResult) -> Advice:
    and_mark = " and mark it" if need.asks == "answers" else ""
    return Advice(f"Exercise it during a capture{and_mark}", _exercise(need))


def _next_unasked(need: NeedResult) -> Advice:
    return Advice(
        "Compare the times with what was done: correct the marks if they are wrong; if not, another signal "
        "may be behind this role. Repeat with marks",
        _exercise(need),
    )


def _next_range(need: NeedResult) -> Advice:
    return Advice(
        f"Check that the DBC of {_network(need)} fits this vehicle and model year before you trust anything "
        "it says of this message"
    )


def _next_counter(need: NeedResult) -> Advice:
    return Advice(
        "Capture again with nothing else plugged in, and watch the adapter's lost-frame count",
        after=f"If the jumps stay, look for a second sender of {_message(need)}.",
    )


def _next_frozen(need: NeedResult) -> Advice:
    return Advice(
        f"Look for what repeats old frames of {_message(need)}: a gateway that stands in for a silent "
        "sender, a simulator left connected",
        after="Capture again with the sender awake.",
    )


def _next_undefined_role(need: NeedResult) -> Advice:
    slip = " (or correct the name in the retrofit file)" if need.facts.similar else ""
    return Advice(
        f"If this model year has the signal, map the role in the vehicle file{slip}; if not, the part needs "
        "another source for it, such as a wire"
    )


def _next_undefined_signal(need: NeedResult) -> Advice:
    return Advice(
        f"Correct role.{need.role} in the vehicle file, or give a DBC of {_network(need)} that has it"
    )


def _next_other_network(need: NeedResult) -> Advice:
    if need.used_by is not None:
        return Advice(_ask_user(need.used_by, (need.role,)))
    return Advice(_move(need.facts.elsewhere, need.facts.wired))


def _ask_user(module: str, roles: tuple[str, ...]) -> str:
    """A signal that another module uses: where the part is wired does not matter."""
    return (
        f"Find out from the maker's documents how module {module} gets {listing(roles)} (a wire, a gateway, "
        "another message). Until that is shown, do not fit the part."
    )


def _move(elsewhere: tuple[Elsewhere, ...], wired: str | None) -> str:
    """Where to move a part to that is on the wrong network for a need."""
    often = [entry.network for entry in elsewhere if entry.cycle_ms is None]
    if not often:
        return "The part needs another source for it, such as a wire of its own, or must accept longer gaps."
    where = listing(tuple(dict.fromkeys(often)), last="or")
    return (
        f"Wire the part to {where} and say so in the job file, if that can be reached and has the rest that "
        f"it needs, or choose a part that takes what it needs from {wired}."
    )


def _next_absent(need: NeedResult) -> Advice:
    return Advice(
        f"Check that {_network(need)} was fully awake (terminal 15 on, the sender's function in use) and "
        "that this vehicle has the sending module",
        after="Capture again; if it stays away, the part needs another source.",
    )


def _next_slow(need: NeedResult) -> Advice:
    places = "another network that carries it more often" if need.facts.wired else "a network that is faster"
    return Advice(f"Ask the part's maker what gap it accepts, or tap {places}")


def _next_no_answer(need: NeedResult) -> Advice:
    return Advice(
        "Check the marks' times against what was done, then repeat with longer marks",
        _exercise(need),
        "If it fails again, this signal is not what the vehicle file says.",
    )


# ---------------------------------------------------------------------------- at the desk


def _desk_other_network(todo: SettleNeeds) -> str:
    where = listing(todo.networks, last="or")
    if todo.used_by is not None:
        there = f"Module {todo.used_by} uses {listing(todo.roles)}, and {where} has it, {todo.wired} has not."
        return f"{there} {_ask_user(todo.used_by, todo.roles)}"
    text = f"The part is wired to {todo.wired}, but {listing(todo.roles)} {be(todo.roles)} on {where}."
    text += f" {_move(todo.elsewhere, todo.wired)}"
    if todo.lost:
        text += f" By the vehicle file {listing(todo.lost)} {be(todo.lost)} not on {todo.networks[0]}."
    return text


def _one_network(todo: SettleNeeds) -> str:
    return listing(todo.networks) or "its network"


def _desk_marks(todo: SettleNeeds) -> str:
    return f"Check the marks of {listing(todo.roles)} against what was done and correct wrong times."


REASONS: Final[dict[Reason, ReasonWords]] = {
    Reason.OK: ReasonWords(seen=_seen_ok, next=lambda _: Advice(), several="shown"),
    Reason.NO_CAPTURE: ReasonWords(
        seen=_seen_no_capture,
        next=lambda need: Advice(f"Capture {_network(need)} and show it there", _exercise(need)),
        several="not captured",
    ),
    Reason.WRONG_TAP: ReasonWords(
        seen=_seen_wrong_tap,
        next=_next_wrong_tap,
        several="captured on another network",
        desk=lambda todo: (
            f"Check which pair the channel named {_one_network(todo)} in the job file was: its traffic is "
            f"not that of {_one_network(todo)}."
        ),
    ),
    Reason.DOUBTFUL_NETWORK: ReasonWords(
        seen=_seen_doubtful,
        next=lambda need: Advice(
            f"Make sure of the vehicle, the model year and the pair, then capture {_network(need)} again and "
            "mark two exercises at least",
            _exercise(need),
        ),
        several="their network is doubtful",
        desk=lambda todo: (
            f"Check that {todo.file} and the DBC of {_one_network(todo)} are of this vehicle and model year: "
            "too few ids of the capture fit."
        ),
    ),
    Reason.NO_TIME: ReasonWords(
        seen=_seen_no_time,
        next=lambda need: Advice(
            f"Capture {_network(need)} again with time stamps (candump -l, or a logger that writes them)",
            _exercise(need),
        ),
        several="captured without time stamps",
    ),
    Reason.SOME_ANSWERS: ReasonWords(
        seen=_seen_no_answer,
        next=lambda need: Advice(
            "Check the marks' times against what was done, then repeat with longer marks",
            _exercise(need),
            "If it fails again, another signal may be behind this role.",
        ),
        several="some marks were not answered",
        desk=_desk_marks,
    ),
    Reason.DELAY_NOT_SHOWN: ReasonWords(
        seen=_seen_delay,
        next=lambda need: Advice("Repeat the exercise four times in one capture", _exercise(need)),
        several="too few changes to tell how late they come",
    ),
    Reason.NO_MARK: ReasonWords(
        seen=lambda need: f"{_there(need)}, but {_unmarked(need)}",
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
    Reason.MOVES_UNASKED: ReasonWords(
        seen=_seen_unasked,
        next=_next_unasked,
        several="active outside all marks",
        desk=_desk_marks,
    ),
    Reason.OUT_OF_RANGE: ReasonWords(
        seen=_seen_out_of_range,
        next=_next_range,
        several="values outside the DBC's limits",
        desk=lambda todo: (
            f"Check that the DBC of {_one_network(todo)} fits this vehicle: values of {listing(todo.roles)} "
            "lie outside its limits, so nothing read with it is certain."
        ),
    ),
    Reason.COUNTER_JUMPS: ReasonWords(
        seen=_seen_counter_jumps, next=_next_counter, several="their counters jump"
    ),
    Reason.BY_WIRE: ReasonWords(
        seen=_seen_by_wire,
        next=lambda _: Advice("Measure the wire before you connect it, and prove it after fitting"),
        several="by wires of their own",
    ),
    Reason.BY_ITEM: ReasonWords(
        seen=_seen_by_item,
        next=lambda _: Advice("Prove it after both parts are fitted"),
        several="supplied by another part",
    ),
    Reason.LOCKED: ReasonWords(
        seen=_seen_locked,
        next=lambda need: Advice(
            f"Code {_unlock(need)}, capture {_network(need)} again and show it", _exercise(need)
        ),
        several="they appear only after coding",
    ),
    Reason.UNDEFINED_ROLE: ReasonWords(
        seen=_seen_undefined_role,
        next=_next_undefined_role,
        several="not in the vehicle file for this model year",
        desk=lambda todo: (
            f"Find out which message carries {listing(todo.roles)} in model year {todo.year} and add it to "
            f"{todo.file}; if the vehicle has no such signal, choose a part that does without."
        ),
    ),
    Reason.UNDEFINED_SIGNAL: ReasonWords(
        seen=_seen_undefined_signal,
        next=_next_undefined_signal,
        several="not in the DBC",
        desk=lambda todo: (
            f"Correct {todo.file} or the DBC of {_one_network(todo)}: it lacks {listing(todo.signals)} "
            f"({listing(todo.roles)})."
        ),
    ),
    Reason.OTHER_NETWORK: ReasonWords(
        seen=_seen_other_network,
        next=_next_other_network,
        several="on another network than the part",
        desk=_desk_other_network,
    ),
    Reason.MESSAGE_ABSENT: ReasonWords(
        seen=lambda need: f"no frame of {_message(need)} in {_listened(need)}",
        next=_next_absent,
        several="their messages never came",
    ),
    Reason.SHORT_FRAME: ReasonWords(
        seen=_seen_short_frame,
        next=lambda need: Advice(
            f"Check that the DBC of {_network(need)} fits this model year: it declares longer frames than "
            "were seen"
        ),
        several="frames too short",
        desk=lambda todo: (
            f"Check that the DBC of {_one_network(todo)} is for model year {todo.year}: frames of "
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
    Reason.TOO_SLOW: ReasonWords(
        seen=_seen_too_slow,
        next=_next_slow,
        several="too slow for the part",
        desk=lambda todo: (
            f"Choose a part that accepts {listing(todo.roles)} at the rate seen, or a tap where it comes "
            "more often."
        ),
    ),
    Reason.COUNTER_FROZEN: ReasonWords(
        seen=_seen_counter_frozen, next=_next_frozen, several="their counters stand still"
    ),
    Reason.NO_ANSWER: ReasonWords(
        seen=_seen_no_answer,
        next=_next_no_answer,
        several="no answer to the exercise",
        desk=_desk_marks,
    ),
}
