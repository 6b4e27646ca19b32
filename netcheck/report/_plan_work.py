"""What to do next, the checklist, and what the plan stands on."""

from __future__ import annotations

from typing import Final

from netcheck.plan import Plan
from netcheck.report._action_words import next_texts, step_text
from netcheck.report._finding_words import warning_text
from netcheck.report._page import Page, Style
from netcheck.report._ramp_words import STAGE_TITLES
from netcheck.report._reason_parts import identity_text
from netcheck.verdict import ChannelUse, CodingLeft, NeedResult
from netcheck.words import command_line, counted, listing, path_text, unique
from netcheck.work import STAGES, Step

MOST_WARNINGS: Final = 3
MOST_CHANNELS: Final = 6


def write_next(page: Page, plan: Plan) -> None:
    """The next steps, numbered."""
    if not plan.next:
        return
    page.heading("What to do next")
    texts = next_texts(plan.next)
    column = len(f"{len(texts)}. ")
    for number, text in enumerate(texts, 1):
        page.entry(f"{number}.", text, column=column)


def write_pointer(page: Page, plan: Plan) -> None:
    """Where every step, caution and byte is, for work at the vehicle."""
    if plan.job_file is None:
        how = "the same command with --sheet"
    else:
        how = f"{command_line('plan', plan.job_file, '--sheet')}"
    page.text(f"Every step, gate and caution of the checklist, for paper: {how}")


def write_checklist(page: Page, plan: Plan) -> None:
    """Every step by stage: boxes to tick, gates and cautions."""
    page.heading("Checklist: [ ] to tick off, [!] caution, === gate")
    for stage in STAGES:
        steps = [step for step in plan.checklist if step.stage == stage]
        if steps:
            page.text(STAGE_TITLES[stage], style=Style.STRONG)
            _write_steps(page, steps, many=len(plan.items) > 1)


def _write_steps(page: Page, steps: list[Step], *, many: bool) -> None:
    items: tuple[str, ...] | None = None
    for step in steps:
        if many and step.items != items and not step.is_gate:
            items = step.items
            page.text(f"{listing(items) or 'for the whole job'}:", indent=2)
        page.entry(step_sign(step), step_text(step.action), indent=2, style=_style(step))


def step_sign(step: Step) -> str:
    """``[ ]`` to tick off, ``[!]`` to mind, ``===`` before which nothing of the next stage begins."""
    if step.is_gate:
        return "==="
    return "[!]" if step.caution else "[ ]"


def _style(step: Step) -> Style:
    if step.is_gate:
        return Style.STRONG
    return Style.DOUBT if step.caution else Style.PLAIN


def write_ground(page: Page, plan: Plan, *, verbose: bool, short: bool = False) -> None:
    """What the plan stands on: captures, warnings and, verbose, all that was looked at.

    short: the parts' notes were left out, and are counted here
    """
    page.heading("What this stands on")
    if not plan.captures:
        page.text("No capture: what is said of signals is by the vehicle file and its DBC files alone.")
    most = len(plan.captures) if verbose or len(plan.captures) <= MOST_CHANNELS else MOST_CHANNELS - 1
    for use in plan.captures[:most]:
        page.entry("-", f"{path_text(use.file)} {use.channel}: {_channel(use, verbose)}")
    if len(plan.captures) > most:
        page.entry("…", f"and {counted(len(plan.captures) - most, 'more channel')} (-v shows them)")
    page.text(f"{counted(len(plan.warnings), 'warning')}:" if plan.warnings else "No warnings.")
    most = len(plan.warnings) if verbose or len(plan.warnings) <= MOST_WARNINGS else MOST_WARNINGS - 1
    for warning in plan.warnings[:most]:
        page.entry("!", warning_text(warning), indent=2, style=Style.DOUBT)
    if len(plan.warnings) > most:
        page.text(f"… and {len(plan.warnings) - most} more (-v shows them)", indent=2)
    if short:
        _write_note_count(page, plan)
    if verbose:
        page.heading("Looked at")
        for line in looked_at(plan):
            page.entry("-", line)


def _write_note_count(page: Page, plan: Plan) -> None:
    notes = [note for item in plan.items for note in item.notes]
    left = len(unique(note for note in notes if isinstance(note, CodingLeft)))
    if notes:
        coding = f", {left} of them of coding that is left as it is" if left else ""
        page.text(f"{counted(len(unique(notes)), 'note')} on the parts{coding} (-v shows them).")


def looked_at(plan: Plan) -> list[str]:
    """Every channel, message and rule that was looked at, for those who want to see it."""
    lines = [
        f"{path_text(use.file)} {use.channel}: {use.network or 'no network'}; {identity_text(use)}"
        for use in plan.captures
    ]
    return lines + [f"{item.retrofit}: {_asked(need)}" for item in plan.items for need in item.needs]


def _asked(need: NeedResult) -> str:
    title = f"{need.role}, asks for {need.asks}"
    if need.message is None:
        return f"{title}: {need.reason}"
    seen = need.facts.seen
    counts = (
        f"frames {seen.frames}, too short {seen.too_short}, carried {seen.carried}, "
        f"no value {seen.unavailable}, out of range {seen.out_of_range}, "
        f"valid {seen.valid}, active {seen.active}, inactive {seen.inactive}, "
        f"gaps {len(seen.gaps)}, changes {len(seen.change_gaps)}, counter steps {seen.counter.total}, "
        f"still {seen.counter.still}, jumps {seen.counter.jumps}, "
        f"marks {sum(mark.is_answered for mark in seen.marks)}/{len(seen.marks)}, "
        f"outside {seen.outside.frames}"
    )
    rules = ", ".join(f"{reason} {'YES' if holds else 'no'}" for reason, holds in need.facts.asked)
    return f"{title}: {need.title} on {need.network}: {counts}. Rules: {rules}. Result: {need.reason}"


def _channel(use: ChannelUse, verbose: bool) -> str:
    span = f"in {use.seconds:.1f} s" if use.has_times else "without time stamps"
    size = f"{use.frames:,} frames {span}"
    if use.declared and use.network != use.declared:
        shows = "too few ids came to tell" if use.more_ids else "its traffic is not"
        return f"declared {use.declared}, but {shows} ({identity_text(use)}), {size}"
    told = f" ({identity_text(use)})" if verbose and use.candidates else ""
    if use.is_unclear:
        return f"{listing(use.rivals, last='or')}, not clear which{told}, {size}"
    perhaps = "perhaps " if use.is_doubtful else ""
    return f"{perhaps}{use.network or 'none of this vehicle’s networks'}{told}, {size}"
