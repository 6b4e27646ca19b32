"""What a technician sees while recording: one exercise at a time, and what the roles do."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from netcheck.capture.live import Listening
from netcheck.evidence import (
    SILENT_NS,
    ExerciseStep,
    Guide,
    GuidePhase,
    Outcome,
    SignalReading,
    UnpromptedActivity,
)
from netcheck.records import dataclass
from netcheck.report._page import Page, Style
from netcheck.report._record_words import (
    NO_EXERCISE,
    PHASE_WORDS,
    QUIET_INTERFACES,
    RESULT_WORDS,
    SILENT_HINT,
    UNANSWERED_KEYS,
    PairSeen,
    listening_text,
    pair_text,
    unprompted_text,
)
from netcheck.report._remarks_network import more_needed
from netcheck.report._wrap import cells, clean
from netcheck.words import bit_rates, counted, listing, sentence, unique
from netcheck.work import RecordingSession

START_KEYS: Final = "Read and done? [Enter] starts the recording, [q] leaves."
PAGE_KEYS: Final = "[Enter] goes on, [q] leaves."
_KEYS: Final = "[Enter] done [s] skip [q] stop recording"
_HINT_AFTER: Final = 3.0  # s without a message
_QUIET: Final = PHASE_WORDS[GuidePhase.QUIET]


@dataclass(frozen=True)
class LiveState:
    """The numbers of a running recording.

    silent: seconds since the last frame
    typed:  what is being typed for a range
    """

    seconds: float
    frames: int
    rate: float
    lost: int
    silent: float
    typed: str = ""

    @property
    def is_silent(self) -> bool:
        """Whether values that are shown would be old ones."""
        return self.silent * 1e9 >= SILENT_NS


def introduction(
    session: RecordingSession, *, vehicle: str, interface: str, listening: Listening, width: int, colour: bool
) -> tuple[str, ...]:
    """The cautions one by one; then where to clip on, what the interface does there, what is to be done."""
    cautions = caution_texts([sentence(caution) for caution in session.cautions], width=width, colour=colour)
    page = Page(width)
    page.text(f"Recording {session.network} of a {vehicle} through {interface}", style=Style.STRONG)
    rate = bit_rates(session.bitrate, session.fd_bitrate)
    tap = session.tap or "the vehicle file does not say where it is: see the wiring diagram"
    page.entry("pair", f"{tap}; {rate}", indent=2, column=12)
    style = Style.PLAIN if listening in QUIET_INTERFACES else Style.BAD
    page.entry("interface", listening_text(listening), indent=2, column=12, text_style=style)
    roles = unique(step.role for step in session.steps)
    page.entry("exercises", listing(roles, most=8) or "none", indent=2, column=12)
    if session.running:
        running = unique(watch.role for watch in session.running)
        page.entry("also", f"{listing(running)}: only has to be there", indent=2, column=12)
    return *cautions, "\n" + page.render(colour=colour)


def caution_texts(cautions: Sequence[str], *, width: int, colour: bool) -> tuple[str, ...]:
    """Each by itself, so that a screen need not break one; the first has the heading."""
    texts = []
    for number, caution in enumerate(cautions):
        page = Page(width)
        if not number:
            page.heading("Before you begin")
        page.entry("[!]", caution, column=4)
        texts.append(page.render(colour=colour))
    return tuple(texts)


def pages(parts: Sequence[str], height: int) -> tuple[str, ...]:
    """Texts together as long as they fit into the lines of a screen; a longer one is a page of its own."""
    shown: list[str] = []
    for part in parts:
        if shown and shown[-1].count("\n") + part.count("\n") <= height:
            shown[-1] += part
        else:
            shown.append(part.lstrip("\n"))
    return tuple(shown)


def waiting_line(error_frames: int, waited: float, most: float, width: int) -> str:
    """While no message has come yet. waited, most: seconds."""
    errors = f"{counted(error_frames, 'error frame')} and " if error_frames else ""
    hint = ". Is the ignition on?" if waited > _HINT_AFTER else ""
    return cut(f"  {errors}no message yet, {most - waited:.0f} s to go{hint}", width)


def nothing_to_do_text(network: str, seconds: float, *, width: int, colour: bool, keys: bool) -> str:
    """A recording without exercises."""
    page = Page(width)
    end = "[Enter] or [q] ends it" if keys else "it ends by itself"
    page.text(f"Nothing to exercise on {network}: recording {seconds:g} s, {end}.")
    return page.render(colour=colour)


def doubtful_pair_text(pair: PairSeen, *, width: int, colour: bool) -> str:
    """The traffic may be that of another network."""
    page = Page(width)
    more = f" At least {more_needed(pair.missing)}." if pair.missing else ""
    page.text(f"Careful: only {pair_text(pair)} so far.{more} Is it the right pair?", style=Style.DOUBT)
    return page.render(colour=colour)


def question_text(unprompted: UnpromptedActivity, *, width: int, colour: bool) -> str:
    """Did a person put a role into its state when nobody had asked for it?"""
    page = Page(width)
    page.heading(f"One question: {unprompted.step.role}")
    who = "Did you switch it?" if not unprompted.during else "Did you, or that exercise, switch it?"
    page.text(f"It {unprompted_text(unprompted)}. {who}", style=Style.STRONG)
    page.text("[y] yes, mark it [n] no, or not sure: the plan then counts it as moving by itself")
    return "\n" + page.render(colour=colour)


def confirmed_text(key: str) -> str:
    """What the answer to the question means."""
    return {"y": "yes: marked\n", "n": "no mark\n"}.get(key, "not answered: no mark\n")


def prompt_text(step: ExerciseStep, number: int, total: int, *, width: int, colour: bool, keys: bool) -> str:
    """An exercise: what to do, and which key does what."""
    page = Page(width)
    state = "" if step.state == "active" else f" = {step.state}"
    page.heading(f"{number} of {total}: {step.role}{state}{' (optional)' if step.optional else ''}")
    page.text(sentence(step.do) if step.do else NO_EXERCISE, style=Style.STRONG)
    if step.wants == "range":
        page.text(
            "Hold the value steady and press Enter. 3 s later type what the vehicle's own display showed."
            if keys
            else "Without a terminal nobody can say what the vehicle's display showed: no mark is made."
        )
    if keys:
        page.text(_KEYS)
    return "\n" + page.render(colour=colour)


def unanswered_text(*, width: int, colour: bool) -> str:
    """A person says an exercise is done, and the role did not answer."""
    page = Page(width)
    page.text(UNANSWERED_KEYS, style=Style.DOUBT)
    return page.render(colour=colour)


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
    text = f"{outcome.step.role} {RESULT_WORDS[outcome.result]}"
    if outcome.from_ns is not None and outcome.to_ns is not None:
        if outcome.asked_ns is not None:
            text += f" {max(outcome.from_ns - outcome.asked_ns, 0) / 1e9:.1f} s after it was asked,"
        text += f" for {max((outcome.to_ns - outcome.from_ns) / 1e9, 0.1):.1f} s"
    meter = guide.meter(outcome.step)
    if not outcome.is_good and meter is not None and not meter.frames:
        text += "; its message never came"
    style = Style.GOOD if outcome.is_good else Style.DOUBT
    page.entry("+" if outcome.is_good else "?", text, style=style, text_style=style)
    return page.render(colour=colour)


def live_lines(guide: Guide, state: LiveState, now_ns: int, width: int) -> tuple[str, str, str]:
    """Three lines, none wider than ``width``: the role, the others, the recording."""
    step = guide.current
    if guide.phase is GuidePhase.QUIET:
        first = f"  {_QUIET}: {guide.quiet_left_ns(now_ns) / 1e9:.0f} s"
    elif step is None:
        left = guide.stillness_left_ns(now_ns) / 1e9
        first = f"  {_QUIET}: {left:.0f} s" if left else f"  {PHASE_WORDS[GuidePhase.OVER]}"
    elif guide.phase is GuidePhase.ASK:
        first = f"  {PHASE_WORDS[GuidePhase.ASK]}{state.typed}_"
    elif state.is_silent:  # the last value would look like the present one
        first = f"  {step.role}: – no frame for {state.silent:.0f} s, {SILENT_HINT}"
    else:
        first = f"  {step.role}: {_role_text(guide, step, now_ns)}"
    movers = [f"{meter.watch.role} {value_text(meter.reading)}" for meter in guide.movers(now_ns)]
    second = f"  also moving: {listing(movers, most=3)}" if movers and not state.is_silent else ""
    return cut(first, width), cut(second, width), _state_line(state, width)


def _state_line(state: LiveState, width: int) -> str:
    """The numbers, as many of them as fit; what is wrong comes before the rest."""
    wrong = [f"NOTHING FOR {state.silent:.0f} s"] if state.silent >= 1.0 else []
    wrong += [f"{state.lost:,} LOST"] if state.lost else []
    parts = [*wrong, f"{state.seconds:.0f} s", f"{state.frames:,} frames", f"{state.rate:,.0f} a second"]
    while len(parts) > 1 and cells("  " + ", ".join(parts)) > width:
        parts.pop()
    return cut("  " + ", ".join(parts), width)


def _role_text(guide: Guide, step: ExerciseStep, now_ns: int) -> str:
    meter = guide.meter(step)
    if meter is None:
        return "not in the DBC, nothing to see"
    value = value_text(meter.reading)
    changes = counted(meter.changes, "change")
    if guide.phase is GuidePhase.HOLD and step.wants != "state":
        return f"{value} – MOVES, {changes}"
    text = PHASE_WORDS[guide.phase].format(
        state="active" if step.state == "active" else f"at {step.state}",
        held=f"{guide.held_ns(now_ns) / 1e9:.1f} s",
    )
    if text:
        return f"{value} – {text}"
    return f"{value}, {changes}" if meter.changes else value


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
    """The line without what does not fit, down to a whole word where half of it stays; indented as before."""
    lead = text[: len(text) - len(text.lstrip())]
    line = lead + clean(text)
    if cells(line) <= width:
        return line
    whole = line
    while line and cells(line) > width - 1:
        line = line[:-1]
    words = line if whole[len(line)] == " " else line.rpartition(" ")[0]
    return (words.rstrip() if 2 * cells(words) >= width else line) + "…"
