"""The sheet: a plan's checklist for paper, to work from without a screen, to sign and to keep."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from itertools import count
from typing import Final

from netcheck.plan import Plan
from netcheck.report._action_words import step_text
from netcheck.report._coding_step_words import turn_word
from netcheck.report._page import Page
from netcheck.report._paper import PAGE_WIDTH, Block, Section, pages
from netcheck.report._plan_resources import gift_texts
from netcheck.report._plan_words import VERDICT_WORDS
from netcheck.report._ramp_words import POWER_DOWN, STAGE_TITLES, exercise_title, gate_text
from netcheck.report._states import write_states
from netcheck.report._wrap import cells, clean, wrap
from netcheck.verdict import Verdict
from netcheck.words import counted, listing, sentence, unique
from netcheck.work import (
    IN_TURN,
    STAGES,
    Action,
    AnswerQuestion,
    Exercises,
    Gate,
    PowerDown,
    Prove,
    ReadBack,
    RecordAgain,
    ResolveConflict,
    SettleNeeds,
    Stage,
    Step,
    WriteBlock,
)

_ROOM: Final = "__________ ____"  # value or tool, and initials
_INDENT: Final = 7  # box and number
_NEW_PAGE: Final[frozenset[Stage]] = frozenset({"before", "power-down", "code", "standing"})
DESK: Final = (ResolveConflict, AnswerQuestion, SettleNeeds)
_SIGNATURES: Final = (
    ("Work done by", "____________________________   Date ____________"),
    ("Checked by", "____________________________   Date ____________"),
    ("Handed over to", "____________________________   Date ____________"),
)


def sheet_text(plan: Plan) -> str:
    """The sheet of a plan: pages of 80 columns and 66 lines, a form feed between two.

    What must wait for a better verdict is counted, not printed. What is done at a desk is left to the next
    steps of the plan.
    """
    due, held = due_steps(plan)
    numbers = count(1)
    sections = [_overview(plan)]
    opened = False
    for stage in STAGES:
        steps = [step for step in due if step.stage == stage]
        if not steps:
            continue
        starts = stage in _NEW_PAGE and stage != "before"
        starts = starts or (stage == "fit" and not opened)
        opened = opened or stage == "power-down"
        blocks = [_block(plan, step, numbers, lead) for step, lead in _grouped(steps)]
        if stage == "handover":
            blocks.append(Block(_signatures()))
        sections.append(Section(_title(STAGE_TITLES[stage]), tuple(blocks), starts))
    if held:
        block = Block(_lines(held_text(plan, len(held))))
        sections.append(Section(_title("Held back"), (block,), starts_page=False))
    return pages(sections, _head(plan), _foot())


def _signatures() -> tuple[str, ...]:
    return tuple(text for label, line in _SIGNATURES for text in ("", f"{label:<15}{line}"))


def due_steps(plan: Plan) -> tuple[list[Step], list[Step]]:
    """Steps to work through before the plan is run again, and those held back. Neither: steps at a desk.

    What several parts share names only those of them that need not wait.
    """
    ready = {item.retrofit for item in plan.items if item.verdict.is_fittable}
    paper = [step for step in plan.checklist if not isinstance(step.action, DESK)]
    due = [step for step in paper if _is_due(step, ready)]
    held = [step for step in paper if step not in due and not step.is_gate]
    return [step if step.stage == "before" else _narrowed(step, ready) for step in due], held


def _narrowed(step: Step, ready: set[str]) -> Step:
    """A step without the names of parts that have to wait."""
    action = step.action
    if isinstance(action, Prove):
        action = replace(action, shows=tuple(name for name in action.shows if name in ready))
    return replace(step, items=tuple(name for name in step.items if name in ready), action=action)


def _is_due(step: Step, ready: set[str]) -> bool:
    """Whether a step can be worked through before the plan is run again."""
    return step.stage == "before" or (bool(ready.intersection(step.items)) if step.items else bool(ready))


def held_text(plan: Plan, number: int) -> str:
    """Why so many steps are not printed."""
    names = unique(item.retrofit for item in plan.items if item.verdict is Verdict.UNPROVEN)
    waiting = f"until {listing(names)} may be fitted" if names else "while the verdict is no-go"
    return f"{counted(number, 'step')} held back {waiting}: run the plan again first."


# ---------------------------------------------------------------------------- head, foot, overview


def _head(plan: Plan) -> list[str]:
    """Which vehicle and whose job, on every page."""
    known = plan.identity
    told = [
        f"VIN {known.vin or '_' * 17}",
        f"Plate {clean(known.registration) or '_' * 9}",
        f"{known.odometer_km:,} km" if known.odometer_km is not None else "______ km",
        f"Job {clean(known.reference) or '_' * 8}",
        f"By {clean(known.technician) or '_' * 12}",
    ]
    return [
        clean(f"{plan.vehicle}, model year {plan.model_year}")[: PAGE_WIDTH - 16],
        *wrap("   ".join(told), PAGE_WIDTH),
        "[ ] to tick off   [!] to mind   === gate".ljust(PAGE_WIDTH - len(_ROOM)) + "value/tool init",
    ]


def _foot() -> list[str]:
    return ["── Page done: initials ______  date ___________  open points ___________________"]


def _title(text: str) -> str:
    return f"── {text.upper()} ".ljust(PAGE_WIDTH, "─")


def _overview(plan: Plan) -> Section:
    """The verdicts, and what is connected to what."""
    page = Page(PAGE_WIDTH)
    for verdict in unique(item.verdict for item in plan.items):
        names = [item.retrofit for item in plan.items if item.verdict is verdict]
        page.text(f"{VERDICT_WORDS[verdict]}: {listing(names)}")
    for network in unique(link.network for link in plan.connections if link.network is not None):
        here = [link for link in plan.connections if link.network == network]
        tap = f" ({here[0].tap})" if here[0].tap else ""
        page.text(f"On {network}{tap}: {listing([link.item for link in here])}")
    for link in plan.connections:
        for wire in link.wires:
            page.text(f"{link.item}: {wire.role} by wire from {wire.from_}")
    for text in gift_texts(plan):
        page.text(text)
    lines = tuple(page.render(colour=False).splitlines())
    title = f"JOB {plan.job}: {VERDICT_WORDS[plan.verdict]}"
    return Section(_title(title), tuple(Block((line,)) for line in lines), starts_page=True)


# ---------------------------------------------------------------------------- steps


def _grouped(steps: list[Step]) -> list[tuple[Step, str]]:
    """The steps with the words that an exercise shares with others at its beginning, "" where it shares none.

    Exercises that begin in the same way stand together, where the first of them stood.
    """
    leads = [_lead(step) for step in steps]
    shared = {lead for lead in leads if lead and leads.count(lead) > 1}
    found: list[tuple[Step, str]] = []
    for step, lead in zip(steps, leads, strict=True):
        if lead not in shared:
            found.append((step, ""))
        elif all(lead != before for _, before in found):
            found += [(other, lead) for other, its in zip(steps, leads, strict=True) if its == lead]
    return found


def _lead(step: Step) -> str:
    """How an exercise begins: what it asks of the vehicle before it says what to do; "" for other steps."""
    if not isinstance(step.action, Prove):
        return ""
    before, colon, _ = clean(step.action.group.do).partition(": ")
    return before if colon else ""


def _block(plan: Plan, step: Step, numbers: Iterator[int], lead: str) -> Block:
    """lead: what stands above several exercises and is not said in each"""
    action = step.action
    if isinstance(action, Gate):
        return Block(("", *_hung("=== ", f"GATE: {gate_text(action)}", after=" Sign ________")))
    if step.caution:
        return Block(_hung("[!] ", step_text(action)))
    box = f"[ ] {next(numbers):<2} "
    if isinstance(action, WriteBlock):
        return Block(_write_block(action, box))
    if isinstance(action, Prove):
        lines = _hung(box, _prove_text(action, lead), after=f" {_ROOM}")
        head = _lines(f"{lead}:") if lead else ()
        return Block((*lines, *_in_turn(action.group)), head)
    lines = _hung(box, _whose(plan, step) + _paper_text(action), after=f" {_ROOM}")
    return Block((*lines, *_boxes(action.sources)) if isinstance(action, PowerDown) else lines)


def _paper_text(action: Action) -> str:
    """A step without what is done at a computer afterwards."""
    if isinstance(action, RecordAgain):
        return f"Record {listing(action.networks)} again meanwhile, as the proof."
    if isinstance(action, PowerDown):
        return POWER_DOWN
    if isinstance(action, ReadBack):
        return "Read every written block again and tick that it reads back."
    return step_text(action)


def _whose(plan: Plan, step: Step) -> str:
    return f"{listing(step.items)}: " if step.items and len(plan.items) > 1 else ""


def _prove_text(action: Prove, lead: str) -> str:
    """Short: what to do behind the lead, and for whom."""
    text = f"{_title_of(action.group)}: {sentence(clean(action.group.do).removeprefix(f'{lead}: '))}"
    if action.shows:
        text += f" For: {listing(action.shows)}."
    if action.suppliers:
        text += f" From: {listing(action.suppliers)}."
    return text


def _title_of(group: Exercises) -> str:
    """Of several in turn what their names share: each has a box of its own."""
    if not _is_in_turn(group):
        return exercise_title(group)
    title = _shared(group.roles).rstrip(".-")
    return title if group.state == "active" else f"{title} = {group.state}"


def _is_in_turn(group: Exercises) -> bool:
    return len(group.roles) > 1 and IN_TURN in group.do


def _shared(roles: tuple[str, ...]) -> str:
    """How the roles begin, up to the last dot or dash that all of them have: ``park.front-``."""
    same = [one == other for one, other in zip(min(roles), max(roles), strict=False)]
    common = roles[0][: (*same, False).index(False)]
    return common[: max(common.rfind("."), common.rfind("-")) + 1]


def _in_turn(group: Exercises) -> list[str]:
    """A box for each of several roles that one exercise shows in turn."""
    if not _is_in_turn(group):
        return []
    return _boxes(role.removeprefix(_shared(group.roles)) for role in group.roles)


def _boxes(names: Iterable[str]) -> list[str]:
    lines = [""]
    for box in (f"[ ] {name}" for name in names):
        if lines[-1] and len(lines[-1]) + 2 + len(box) > PAGE_WIDTH - _INDENT:
            lines.append("")
        lines[-1] += f"  {box}" if lines[-1] else box
    return [" " * _INDENT + line for line in lines]


def _write_block(action: WriteBlock, lead: str) -> tuple[str, ...]:
    """Old bytes over new bytes, with room for what was read and what was read back."""
    module = action.module.key + (f" ({action.module.title})" if action.module.title else "")
    changes = listing(
        [f"{row.field} {'unknown' if row.from_ is None else row.from_} → {row.to}" for row in action.rows]
    )
    page = Page(PAGE_WIDTH)
    write_states(page, ("old, to revert", action.write.before), ("new", action.write.after))
    states = page.render(colour=False).splitlines()
    turn = f" {turn_word(action.turn)}" if action.turn is not None else ""
    states[0] = _checked(states[0], "read again: same [ ]")
    new = next(number for number, line in enumerate(states) if line.startswith("  new"))
    states[new] = _checked(states[new], "reads back: same [ ]")
    text = f"Write {module} {action.write.did}: {changes}.{turn}"
    return (*_hung(lead, text, after=f" {_ROOM}"), *(f"     {line}".rstrip() for line in states))


def _checked(line: str, box: str) -> str:
    """A box at the right edge of a line of bytes, where it has room there."""
    room = PAGE_WIDTH - 5 - len(line) - len(box)
    return f"{line}{' ' * room}{box}" if room > 1 else line


def _hung(lead: str, text: str, *, after: str = "") -> tuple[str, ...]:
    """A paragraph behind its lead; ``after`` stands at the right edge of the first line."""
    left = len(lead)
    width = PAGE_WIDTH - left
    first, *others = wrap(text, width, first=width - len(after))
    gap = " " * (width - len(after) - cells(first))
    return (f"{lead}{first}{gap}{after}".rstrip(), *(" " * left + line for line in others))


def _lines(text: str) -> tuple[str, ...]:
    return tuple(wrap(text, PAGE_WIDTH))
