"""All that is said of what a person does: one entry for each action of ``netcheck.work``, in one place."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Any, Final

from netcheck.coding import CodingRow
from netcheck.files import FIRST, LAST
from netcheck.report._doubt_words import DOUBT_STEPS
from netcheck.report._finding_words import finding_next, finding_text
from netcheck.report._numbers import choices, minutes
from netcheck.report._ramp_words import RAMP_STEPS, exercise_title
from netcheck.report._reasons import REASONS
from netcheck.verdict import ChannelUse, SupplyIdUnknown
from netcheck.words import bit_rates, clause, command_line, listing, path_text, sentence, spaced, unique
from netcheck.work import (
    Action,
    AnswerQuestion,
    CodeOnceRead,
    CodeWithCare,
    CodingTurn,
    DoByHand,
    DoNotFit,
    FindFact,
    FitAndProve,
    FitWithSupplier,
    HoldBlock,
    LeaveUnfitted,
    LookUpFacts,
    Mind,
    ModuleTitle,
    OnlyListen,
    PlanAgain,
    PlanBeforeTrip,
    ReadBack,
    ReadBlock,
    ReadBlocks,
    Record,
    ResolveConflict,
    SettleNeeds,
    Show,
    WaitForVerdict,
    WriteBlock,
)

MOST_ROLES: Final = 8  # named in one next step; the checklist has them all

# Common practice, from the trade; the retrofit files bring the cautions of their own work.
ONLY_LISTEN: Final = "Only listen: the logger sends nothing. Whoever drives does nothing else."
NO_EXERCISE: Final = "no exercise is given: put it into its other state for 3 seconds, then back"
CODE_WITH_CARE: Final = (
    "netcheck writes nothing to a vehicle: code with your own authorised equipment, vehicle standing, "
    "steady supply voltage. Read each block again just before writing; if it is not the old one below, stop."
)


def step_text(action: Action) -> str:
    """An action as a line of the checklist."""
    return (STEPS.get(type(action)) or NEXT_STEPS[type(action)])(action)


def next_text(action: Action) -> str:
    """An action as one of the next steps, which are shorter than the checklist."""
    return (NEXT_STEPS.get(type(action)) or STEPS[type(action)])(action)


def next_texts(actions: Iterable[Action]) -> list[str]:
    """The next steps; what several conflicts ask for in the same words is said once, with all their items.

    Ids that one part's file does not state for another part are asked for once.
    """
    found: dict[str, list[str]] = {}
    actions = list(actions)
    for action in actions:
        if isinstance(action, AnswerQuestion) and isinstance(action.question, SupplyIdUnknown):
            found.setdefault(_supply_ids(action.question, actions), []).extend(action.items)
        elif isinstance(action, ResolveConflict):
            found.setdefault(_cure(action), []).extend(action.items)
        else:
            found.setdefault(next_text(action), [])
    return [_of_items(text, unique(names)) for text, names in found.items()]


def _supply_ids(question: SupplyIdUnknown, actions: Iterable[Action]) -> str:
    asked = [action.question for action in actions if isinstance(action, AnswerQuestion)]
    alike = [each for each in asked if isinstance(each, SupplyIdUnknown)]
    pair = question.supplier, question.user
    roles = unique(each.role for each in alike if (each.supplier, each.user) == pair)
    if len(roles) == 1:
        return f"{sentence(finding_text(question))} {' '.join(finding_next(question))}"
    return (
        f"{question.supplier} supplies {listing(roles, most=MOST_ROLES)}, which {question.user} needs, and "
        "its retrofit file does not say with which ids. Ask the maker of "
        f"{question.supplier} for them and add message_id to its file."
    )


def _of_items(text: str, items: tuple[str, ...]) -> str:
    return f"{listing(items)}: {text}" if items else text


def _plan_command(job: str | None) -> str:
    """The command that makes this plan again."""
    return command_line("plan", job) if job is not None else "the same netcheck plan command"


def _module(module: ModuleTitle, *asides: str) -> str:
    """``engine (Engine control)``."""
    told = [text for text in (module.title, *asides) if text]
    return f"{module.key} ({'; '.join(told)})" if told else module.key


def misdeclared_text(use: ChannelUse) -> str:
    """``can0 of x.log was declared comfort, but its traffic is that of drive``."""
    whose = f"its traffic is that of {use.network}" if use.network else "its traffic is not"
    if use.more_ids:
        whose = f"too few ids came to tell, {use.more_ids} more must fit"
    return f"{use.channel} of {path_text(use.file)} was declared {use.declared}, but {whose}"


# ---------------------------------------------------------------------------- desk


def _cure(action: ResolveConflict) -> str:
    return " ".join(finding_next(action.conflict))


def _settle(action: SettleNeeds) -> str:
    desk = REASONS[action.reason].desk
    if desk is None:
        raise KeyError(f"no words for {action.reason} at the desk")
    return _of_items(desk(action), action.items)


def _look_up(action: LookUpFacts) -> str:
    plural = "them" if len(action.facts) > 1 else "it"
    return (
        f"Look up {listing(action.facts)} and add {plural} to [facts] in {path_text(action.file)}; what "
        "cannot be looked up, check on the vehicle on the same trip."
    )


def _plan_again(action: PlanAgain) -> str:
    if not action.trip:
        return f"Then run {_plan_command(action.job)} again."
    if action.job_name is None:
        facts = f"; add the facts to {path_text(action.facts_file)}" if action.facts_file else ""
        return (
            "Back at the desk: write a job file with this job's items, the captures, times and readouts"
            f"{facts}, and run netcheck plan on it."
        )
    facts = f", the facts to {path_text(action.facts_file)}" if action.facts_file else ""
    return (
        f"Back at the desk: add the captures, times and readouts to {path_text(action.job_name)}{facts}, "
        f"and run {_plan_command(action.job)} again."
    )


# ---------------------------------------------------------------------------- trip


def _record_step(action: Record) -> str:
    task = action.task
    tap = action.tap or "the pair's place is not in the vehicle file: see the wiring diagram"
    rate = bit_rates(action.bitrate, action.fd_bitrate)
    text = f"Record {task.network} ({rate}; {clause(tap)}): ignition on, {minutes(task.seconds)}, one file"
    if task.misdeclared:
        text += f". Check the pins first: {listing([misdeclared_text(use) for use in task.misdeclared])}"
    if task.silent:
        text += f". Check whether the vehicle has, and uses, what sends {listing(task.silent)}"
    if task.running:
        text += f". It has to hold {listing(task.running)}"
    if task.showings:
        text += ". In it, 10 s apart:"
    return sentence(text)


def _record_next(action: Record) -> str:
    task = action.task
    shown = unique(showing.role for showing in task.showings)
    start = "At the vehicle" if action.is_first else "On the same trip"
    place = f" ({clause(action.tap)})" if action.tap else ""
    text = f"{start}, clip on to {task.network}{place}, ignition on, record once, {minutes(task.seconds)}"
    if shown:
        exercises = "exercise" if len(task.showings) == 1 else "exercises"
        text += f", and do the {exercises} of the checklist meanwhile ({listing(shown, most=MOST_ROLES)})"
        if any(showing.mark for showing in task.showings):
            text += ", noting from when to when"
    if task.running:
        text += f". {listing(task.running)} only {'has' if len(task.running) == 1 else 'have'} to be there"
    if task.silent:
        text += f". Check whether the vehicle has, and uses, what sends {listing(task.silent)}"
    if task.misdeclared and all(use.more_ids for use in task.misdeclared):
        text += ". Have all of it awake: last time too few ids came"
    elif task.misdeclared:
        text += ". Check the pins: last time it was another pair"
    return sentence(text)


def _show(action: Show) -> str:
    """An exercise with blanks for its times."""
    group = action.group
    aside = " (optional)" if action.optional else ""
    text = f"{exercise_title(group)}{aside}: {sentence(group.do or NO_EXERCISE)}"
    if not action.marked:
        return text
    state = "Active" if group.state == "active" else f"At {group.state}"
    if action.has_range:
        state = "Between ____ and ____"
    if len(group.roles) == 1:
        return f"{text} {state} from ____ to ____ s"
    times = ", ".join(f"{role.rpartition('.')[2]} ____ – ____" for role in action.marked)
    return f"{text} {state} from – to, in s: {times}"


def _read_block(action: ReadBlock) -> str:
    ids = ""
    if action.ids is not None:
        ids = f"request id 0x{action.ids[0]:X}, response id 0x{action.ids[1]:X}"
    blanks = " ".join(["__"] * action.length)
    if action.length > 8:
        blanks = f"{action.length} bytes ____________"
    return (
        f"Read coding block {action.did} of {_module(action.module, ids)} for {listing(action.fields)}: "
        f"{blanks}"
    )


def _read_blocks(action: ReadBlocks) -> str:
    blocks = listing([f"{module} {did}" for module, did in action.blocks])
    noun = "coding block" if len(action.blocks) == 1 else "coding blocks"
    start = "At the vehicle" if action.is_first else "On the same trip"
    return f"{start}, read {noun} {blocks} with your own diagnostic equipment and keep the bytes."


def _find_fact(action: FindFact) -> str:
    wanted = [
        f"{entry.item} needs {choices(entry.any_of)}" + (f" ({clause(entry.why)})" if entry.why else "")
        for entry in action.wanted
    ]
    return sentence(f"Find out {action.fact}: ____________ {'; '.join(unique(wanted))}")


# ---------------------------------------------------------------------------- coding


def turn_text(turn: CodingTurn) -> str:
    """Where a block stands in the order of coding, and why: sentences."""
    texts = []
    if turn.place is not None:
        texts.append(f"{_place_word(turn.place)}: {clause(turn.why) or 'the vehicle file says so'}.")
    if turn.afters:
        texts.append(f"Only after {listing(turn.afters)}.")
    if turn.together:
        texts.append(f"One step with {listing(turn.together)}: write them one directly after the other.")
    return " ".join(texts)


def turn_word(turn: CodingTurn) -> str:
    """The same without the reason, for a narrow column."""
    place = [] if turn.place is None else [f"{_place_word(turn.place)}."]
    return " ".join((*place, turn_text(replace(turn, place=None)))).strip()


def _place_word(place: int) -> str:
    return {FIRST: "First", LAST: "Last"}.get(place, f"Place {place} in the order")


def _turn(turn: CodingTurn | None) -> str:
    if turn is None:
        return ""
    return f" {turn_text(turn)}"


def _value(value: str | int | None) -> str | int:
    return "unknown" if value is None else value


def _write_block(action: WriteBlock) -> str:
    changes = listing([f"{row.field} {_value(row.from_)} → {row.to}" for row in action.rows])
    old, new = spaced(action.write.before), spaced(action.write.after)
    return (
        f"Write {_module(action.module)} {action.write.did}: {old} → {new} ({changes}). To revert: {old}."
        f"{_turn(action.turn)}"
    )


def _code_once_read(action: CodeOnceRead) -> str:
    values = listing([_wanted(row) for row in action.rows])
    return (
        f"Code {_module(action.module)} {action.did}: {values}; the bytes follow once the block is read."
        f"{_turn(action.turn)}"
    )


def _wanted(row: CodingRow) -> str:
    return f"{row.field} = {row.to}"


def _hold_block(action: HoldBlock) -> str:
    return (
        f"Do not write {_module(action.module)} {action.did} from this plan: the block holds a change for "
        f"{listing(action.items)}, which is no-go. Run the plan without it first.{_turn(action.turn)}"
    )


def _read_back(action: ReadBack) -> str:
    how = " byte by byte."
    if action.job is not None:
        how = f": {command_line('coding', action.job, '--readback')} FILE"
    return f"Read the written blocks again and compare{how}"


# ---------------------------------------------------------------------------- end

_WAIT: Final = {
    "before": "Do not prepare",
    "fit": "Do not fit",
    "code": "Do not code for",
    "prove": "Nothing to prove for",
}


def _fit_and_prove(action: FitAndProve) -> str:
    code = f", then code {listing(action.modules, last='and then')}" if action.modules else ""
    text = f"Fit {listing(action.items)} by the checklist{code}, then prove every need with its exercise."
    if action.held:
        blocks = listing([f"{module} {did}" for module, did in action.held])
        others = listing(action.others)
        holds = "it also holds" if len(action.held) == 1 else "they also hold"
        text += (
            f" Do not code {blocks} from this plan: {holds} a change for {others}. "
            f"Run it without {others} first."
        )
    return text


def _do_not_fit(action: DoNotFit) -> str:
    text = f"Do not fit {listing(action.items)} while the verdict is {action.verdict}."
    if action.roles:
        text += (
            f" If a new capture still lacks {listing(action.roles, last='or')}, the part needs another "
            "source, or is not for this vehicle."
        )
    return text


STEPS: Final[dict[type[Action], Callable[[Any], str]]] = {
    LeaveUnfitted: lambda action: (
        f"Do not fit {listing(action.items)}: no-go. The steps here are only those that could change it."
    ),
    OnlyListen: lambda _: ONLY_LISTEN,
    Mind: lambda action: sentence(action.text),
    CodeWithCare: lambda _: CODE_WITH_CARE,
    WaitForVerdict: lambda action: (
        f"{_WAIT[action.phase]} {action.item} yet: unproven. Wait until the plan says go or go with changes."
    ),
    FitWithSupplier: lambda action: (
        f"Do not fit without {action.supplier} ({action.verdict}): it supplies what this needs."
    ),
    ResolveConflict: lambda action: _of_items(_cure(action), action.items),
    AnswerQuestion: lambda action: _of_items(
        f"{sentence(finding_text(action.question))} {' '.join(finding_next(action.question))}", action.items
    ),
    SettleNeeds: _settle,
    Record: _record_step,
    Show: _show,
    ReadBlock: _read_block,
    FindFact: _find_fact,
    DoByHand: lambda action: sentence(action.text),
    WriteBlock: _write_block,
    CodeOnceRead: _code_once_read,
    HoldBlock: _hold_block,
    ReadBack: _read_back,
    **RAMP_STEPS,
}

NEXT_STEPS: Final[dict[type[Action], Callable[[Any], str]]] = {
    **DOUBT_STEPS,
    LookUpFacts: _look_up,
    PlanBeforeTrip: lambda action: (
        f"Run {_plan_command(action.job)} again before the trip: what is changed above may change what to "
        "capture."
    ),
    PlanAgain: _plan_again,
    Record: _record_next,
    ReadBlocks: _read_blocks,
    FitAndProve: _fit_and_prove,
    DoNotFit: _do_not_fit,
}
