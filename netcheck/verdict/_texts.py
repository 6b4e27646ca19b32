"""What is said about a need: what was seen, in numbers."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from netcheck.evidence import MarkSeen
from netcheck.network import FrameId
from netcheck.roles import ResolvedRole
from netcheck.verdict._case import Case
from netcheck.verdict._model import Reason
from netcheck.words import counted, listing

MOST_MARKS: Final = 3  # named in one line


def seen_text(case: Case, reason: Reason) -> str:
    """What was seen that makes this reason hold; a clause without a full stop."""
    return _SEEN[reason](case)


def also_text(case: Case, reason: Reason) -> str:
    """The same in short, after another reason that has said how often and where it is."""
    brief = _ALSO.get(reason)
    return brief(case) if brief is not None else seen_text(case, reason)


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
    tap = case.captures
    if tap is None or not tap.channels:
        return "no capture"
    seconds = tap.seconds
    length = f"{seconds:.0f} s" if seconds >= 10 else f"{seconds:.1f} s"
    names = tuple(dict.fromkeys(heard.channel.name for heard in tap.channels))
    files = tuple(dict.fromkeys(heard.file for heard in tap.channels))
    more = f" in {len(files)} captures" if len(files) > 1 else ""
    return f"{length} on {listing(names, most=3)}{more}"


def message_name(case: Case) -> str:
    source = case.source
    if source is None:
        return "its message"
    if source.message is None:
        return source.entry.message
    return f"{source.message.name} ({FrameId(source.message.can_id, source.message.is_extended)})"


def _title(case: Case) -> str:
    return case.source.title if case.source is not None else case.need.role


def network_name(case: Case) -> str:
    return case.source.network if case.source is not None else case.network or "the vehicle"


def _period(case: Case) -> str:
    """How often it came; also gaps longer than the part bears, where they were too few to count."""
    text = f"every {milliseconds(case.seen.gaps.percentile_ns(50))}"
    longer = longer_gaps(case)
    return f"{text} ({longer})" if longer else text


def longer_gaps(case: Case) -> str:
    """``1 of 451 gaps over 250 ms, up to 15 s``; "" where none is longer than the part bears."""
    gaps, bears_ms = case.seen.gaps, case.need.max_gap_ms
    longer = gaps.longer_than(round(bears_ms * 1e6)) if bears_ms is not None else 0
    if not longer:
        return ""
    longest = milliseconds(gaps.longest_ns)
    return f"{longer:,} of {len(gaps):,} gaps over {_number(bears_ms)} ms, up to {longest}"


def _marks(marks: tuple[MarkSeen, ...]) -> str:
    return f"{sum(mark.is_answered for mark in marks)} of {counted(len(marks), 'mark')}"


# ---------------------------------------------------------------------------- what was seen


def _seen_ok(case: Case) -> str:
    seen = case.seen
    if not case.is_captured:
        return f"{_title(case)} is defined on {network_name(case)}; no capture needed"
    parts = [f"{_marks(seen.marks)}"] if seen.marks else []
    parts.append(_period(case))
    parts.append(listened(case))
    return ", ".join(parts)


def _seen_undefined_role(case: Case) -> str:
    return f"the vehicle file maps no {case.need.role} for this model year{case.near}"


def _seen_undefined_signal(case: Case) -> str:
    lacks = case.source.lacks if case.source is not None else "the signal"
    return f"the DBC of {network_name(case)} has no {lacks}"


def _seen_other_network(case: Case) -> str:
    places = listing(
        [f"{source.network} ({source.title}{too_rare(case, source)})" for source in case.elsewhere]
    )
    return f"not on {case.network}, where the part is wired; it is on {places}"


def too_rare(case: Case, source: ResolvedRole) -> str:
    """A warning where the DBC's cycle time there is longer than the gap the part can bear."""
    cycle_ms = source.message.cycle_time_ms if source.message is not None else None
    if cycle_ms is None or case.need.max_gap_ms is None or cycle_ms <= case.need.max_gap_ms:
        return ""
    return f", by its DBC every {cycle_ms:.0f} ms, and the part bears gaps of {case.need.max_gap_ms:.0f} ms"


def _seen_no_capture(case: Case) -> str:
    return f"no capture of {network_name(case)}, so {_title(case)} is only defined"


def _seen_wrong_tap(case: Case) -> str:
    uses = case.captures.misdeclared if case.captures is not None else ()
    told = [f"{use.channel} of {use.file} is not {use.declared} as the job says: {use.text}" for use in uses]
    return "; ".join(told)


def _seen_message_absent(case: Case) -> str:
    return f"no frame of {message_name(case)} in {listened(case)}"


def _seen_short_frame(case: Case) -> str:
    seen = case.seen
    return (
        f"{share(seen.too_short, seen.frames)} frames of {message_name(case)} are too short to hold "
        f"{case.source.entry.signal if case.source else 'the signal'}"
    )


def _seen_not_available(case: Case) -> str:
    seen = case.seen
    if not seen.carried:
        return f"its page never came in {seen.frames:,} frames of {message_name(case)}, {listened(case)}"
    return f'only "no value" in {seen.carried:,} frames of {message_name(case)}, {listened(case)}'


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
    if not mark.judged.valid:
        return f"{mark.label} (no valid frame there)"
    return f"{mark.label} ({mark.judged.in_state} of {mark.judged.valid} frames in state)"


def _seen_moves_unasked(case: Case) -> str:
    frames = counted(case.seen.outside, "frame")
    return f"active in {frames} outside all marks, first at {case.seen.first_outside}"


def _there(case: Case) -> str:
    return f"there, {_period(case)}, {listened(case)}"


def _seen_no_mark(case: Case) -> str:
    return f"{_there(case)}, but {_unmarked(case)}"


def _unmarked(case: Case) -> str:
    return f"no mark says when it was {'active' if case.has_active_states else 'exercised'}"


def _seen_not_exercised(case: Case) -> str:
    return f"{_there(case)}, but {_unmoved(case)}"


def _unmoved(case: Case) -> str:
    value = _held(case)
    return f"it never moved: {value} throughout" if value else "it never moved"


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
    return f"{what} of {message_name(case)} in {listened(case)}; it needs {case.locked_by}"


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


_ALSO: Final[dict[Reason, Callable[[Case], str]]] = {
    Reason.NO_MARK: _unmarked,
    Reason.NOT_EXERCISED: _unmoved,
}
