"""What a technician sees while recording: one exercise at a time, and what the roles do."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from netcheck.evidence import ExerciseStep, Guide, Outcome, Phase, Result, SignalReading, UnpromptedActivity
from netcheck.report._page import Page, Style
from netcheck.report._record import RESULT_WORDS, unasked_text
from netcheck.report._wrap import cells, clean
from netcheck.words import bit_rates, counted, listing, sentence, unique
from netcheck.work import Visit

NO_EXERCISE: Final = "No exercise is given: put it into its other state for 3 seconds, then back."
_QUIET: Final = "Hands off"


@dataclass(frozen=True)
class LiveState:
    """The numbers of a running recording. typed: what is being typed for a range."""

    seconds: float
    frames: int
    rate: float
    lost: int
    silent: float  # seconds since the last frame
    typed: str = ""


def introduction(
    visit: Visit, *, vehicle: str, interface: str, listening: str, width: int, colour: bool
) -> str:
    """Where to clip on, what the interface does to the network, what is to be done, the cautions."""
    page = Page(width)
    page.heading("Before you begin")
    for caution in visit.cautions:
        page.entry("[!]", sentence(caution), column=4)
    page.blank()
    page.text(f"Recording {visit.network} of a {vehicle} through {interface}", style=Style.STRONG)
    rate = bit_rates(visit.bitrate, visit.fd_bitrate)
    tap = visit.tap or "its place is not in the vehicle file: see the wiring diagram"
    page.entry("pair", f"{tap}; {rate}", indent=2, column=12)
    is_quiet = not listening.startswith(("NOT", "not known"))
    page.entry("interface", listening, indent=2, column=12, text_style=Style.PLAIN if is_quiet else Style.BAD)
    roles = unique(act.role for act in visit.acts)
    page.entry("exercises", listing(roles, most=8) or "none", indent=2, column=12)
    if visit.running:
        running = unique(watch.role for watch in visit.running)
        page.entry("also", f"{listing(running)}: only has to be there", indent=2, column=12)
    return page.render(colour=colour)


def question_text(unasked: UnpromptedActivity, first_ns: int, *, width: int, colour: bool) -> str:
    """Was a role really in its state when nobody had asked for it?"""
    page = Page(width)
    page.heading(f"One question: {unasked.act.role}")
    page.text(f"It was {unasked_text(unasked, first_ns, most=5)}.")
    page.text(
        "Was it really so – did a person, or the exercise itself, put it there? Say no when you do not know: "
        "then the plan takes it for moving by itself.",
    )
    page.text("[y] yes, mark it   [n] no")
    return "\n" + page.render(colour=colour)


def prompt_text(act: ExerciseStep, number: int, total: int, *, width: int, colour: bool, keys: bool) -> str:
    """An exercise: what to do, and which key does what."""
    page = Page(width)
    state = "" if act.state == "active" else f" = {act.state}"
    page.heading(f"{number} of {total}: {act.role}{state}{' (optional)' if act.optional else ''}")
    page.text(sentence(act.do) if act.do else NO_EXERCISE, style=Style.STRONG)
    if act.wants == "range":
        page.text(
            "Hold the value steady and press Enter; 3 s later type what the vehicle's own display showed."
            if keys
            else "Without a terminal nobody can say what the vehicle's display showed: no mark is made."
        )
    if keys:
        page.text("[Enter] done   [s] skip   [q] stop recording")
    return "\n" + page.render(colour=colour)


def _seconds(seconds: float) -> str:
    return counted(round(seconds), "second")


def quiet_text(seconds: float, *, width: int, colour: bool) -> str:
    """The quiet time before the first exercise."""
    page = Page(width)
    page.heading(f"{_QUIET} for {_seconds(seconds)}")
    page.text("Touch nothing, so that a role that moves by itself shows up.")
    return "\n" + page.render(colour=colour)


def stillness_text(seconds: float, *, width: int, colour: bool, keys: bool) -> str:
    """The time after the last exercise."""
    page = Page(width)
    page.heading(f"That was all. {_QUIET} for {_seconds(seconds)} more")
    page.text("Touch nothing, so that a role that moves by itself shows up.")
    if keys and seconds > 5:
        page.text("[q] ends it sooner, and says less")
    return "\n" + page.render(colour=colour)


def outcome_text(outcome: Outcome, guide: Guide, *, width: int, colour: bool) -> str:
    """One line when an exercise is over."""
    page = Page(width)
    good = outcome.result in {Result.ANSWERED, Result.MOVED, Result.NOTED}
    text = f"{outcome.act.role} {RESULT_WORDS[outcome.result]}"
    if outcome.from_ns is not None and outcome.to_ns is not None:
        if outcome.asked_ns is not None:
            text += f" {max(outcome.from_ns - outcome.asked_ns, 0) / 1e9:.1f} s after it was asked,"
        text += f" for {max((outcome.to_ns - outcome.from_ns) / 1e9, 0.1):.1f} s"
    meter = guide.meter(outcome.act)
    if not good and meter is not None and not meter.frames:
        text += "; its message never came"
    page.entry(
        "+" if good else "?",
        text,
        style=Style.GOOD if good else Style.DOUBT,
        text_style=Style.GOOD if good else Style.DOUBT,
    )
    return page.render(colour=colour)


def live_lines(guide: Guide, state: LiveState, now_ns: int, width: int) -> tuple[str, str, str]:
    """Three lines, none wider than ``width``: the role, the others, the recording."""
    act = guide.current
    if guide.phase is Phase.QUIET:
        first = f"  {_QUIET}: {guide.quiet_left_ns(now_ns) / 1e9:.0f} s"
    elif act is None:
        left = guide.stillness_left_ns(now_ns) / 1e9
        first = f"  {_QUIET}: {left:.0f} s" if left else "  Recording"
    elif guide.phase is Phase.ASK:
        first = f"  What did the vehicle show? lowest highest [Enter]: {state.typed}_"
    else:
        first = f"  {act.role}: {_role_text(guide, act, now_ns)}"
    movers = [f"{meter.watch.role} {value_text(meter.reading)}" for meter in guide.movers(now_ns)]
    second = f"  also moving: {listing(movers, most=3)}" if movers else ""
    parts = [f"{state.seconds:.0f} s", f"{state.frames:,} frames", f"{state.rate:,.0f} a second"]
    if state.lost:
        parts.append(f"{state.lost:,} LOST")
    if state.silent >= 1.0:
        parts.append(f"NOTHING FOR {state.silent:.0f} s")
    third = "  " + ", ".join(parts)
    return cut(first, width), cut(second, width), cut(third, width)


def _role_text(guide: Guide, act: ExerciseStep, now_ns: int) -> str:
    meter = guide.meter(act)
    if meter is None:
        return "not in the DBC, nothing to see"
    value = value_text(meter.reading)
    held = f"{guide.held_ns(now_ns) / 1e9:.1f} s"
    match guide.phase:
        case Phase.RELEASE:
            return f"{value} – is {_state(act)} already: it must leave that state first"
        case Phase.HOLD if act.wants == "state":
            return f"{value} – ANSWERS, {held}"
        case Phase.HOLD:
            return f"{value} – MOVES, {counted(meter.changes, 'change')}"
        case Phase.STEADY:
            return f"{value} – keep it there"
    changes = f", {counted(meter.changes, 'change')}" if meter.changes else ""
    return f"{value}{changes}"


def _state(act: ExerciseStep) -> str:
    return "active" if act.state == "active" else f"at {act.state}"


def value_text(reading: SignalReading | None) -> str:
    """``R (1)``, ``12.5 km/h``, ``no value (15)``."""
    if reading is None:
        return "no frame of it yet"
    if not reading.is_valid:
        return f"no value ({reading.label or reading.raw})"
    if reading.label:
        return f"{reading.label} ({reading.raw})"
    number = f"{reading.value:.6g}"
    return f"{number} {reading.unit}" if reading.unit else number


def cut(text: str, width: int) -> str:
    """The line without what does not fit; leading blanks stay."""
    lead = text[: len(text) - len(text.lstrip())]
    line = lead + clean(text)
    if cells(line) <= width:
        return line
    while line and cells(line) > width - 1:
        line = line[:-1]
    return line + "…"
