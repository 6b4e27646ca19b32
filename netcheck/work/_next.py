"""What to do next, in the order that saves a second trip to the vehicle."""

from __future__ import annotations

from typing import Final

from netcheck.coding import Write
from netcheck.files import LoadedJob
from netcheck.verdict import ChannelUse, ItemResult, Status, Verdict
from netcheck.words import clause, counted, listing, sentence, unique
from netcheck.work._desk import desk_work
from netcheck.work._todo import (
    FITTABLE,
    RECAPTURE,
    CaptureTask,
    ReadoutTask,
    captures_to_take,
    coding_order,
    command,
    in_write,
    readouts_to_take,
)

MOST_ROLES: Final = 8  # named in one step; the checklist has them all


def next_steps(
    job: LoadedJob,
    items: tuple[ItemResult, ...],
    writes: tuple[Write, ...],
    captures: tuple[ChannelUse, ...],
) -> tuple[str, ...]:
    """What to do next, one action a text, without numbers.

    Desk work comes first, then one trip to the vehicle, then the plan again, then the fitting. What
    several items or needs ask for is said once.
    """
    desk = (*_doubts(captures), *desk_work(job, items))
    questions = _questions(job, items)
    trip = _trip(job, captures_to_take(job, items, captures), readouts_to_take(items))
    steps = [*desk, *questions]
    if desk and trip:
        steps.append(
            f"Run {command(job)} again before the trip: what is changed above may change what to capture."
        )
    steps += trip
    if trip or desk or questions:
        steps.append(_again(job, bool(trip), bool(questions)))
    return (*steps, *_then(job, items, writes))


def _doubts(captures: tuple[ChannelUse, ...]) -> tuple[str, ...]:
    """Captures that may be of another vehicle: nothing that is said of them is worth more than that."""
    return tuple(
        f"Make sure first that {use.file} was taken from this vehicle, and {use.channel} from the pair of "
        f"{use.network}: the match may be an accident."
        for use in captures
        if use.is_doubtful
    )


def _questions(job: LoadedJob, items: tuple[ItemResult, ...]) -> tuple[str, ...]:
    asked: dict[str, str] = {}
    for item in items:
        for question in item.questions:
            asked.setdefault(question.fact, question.text)
    if not asked:
        return ()
    facts = listing(tuple(asked))
    plural = "them" if len(asked) > 1 else "it"
    return (
        f"Look up {facts} and add {plural} to [facts] in {job.vehicle.file.name}; "
        "what cannot be looked up, check on the vehicle on the same trip.",
    )


def _trip(job: LoadedJob, tasks: tuple[CaptureTask, ...], readouts: tuple[ReadoutTask, ...]) -> list[str]:
    """One trip: every capture and every readout."""
    steps = [
        f"{'On the same trip' if number else 'At the vehicle'}, {_capture_text(job, task)}"
        for number, task in enumerate(tasks)
    ]
    if readouts:
        blocks = listing([f"{task.module} {task.did}" for task in readouts])
        noun = "coding block" if len(readouts) == 1 else "coding blocks"
        start = "On the same trip, read" if tasks else "At the vehicle, read"
        steps.append(f"{start} {noun} {blocks} with your own diagnostic equipment and keep the bytes.")
    return steps


def _capture_text(job: LoadedJob, task: CaptureTask) -> str:
    shown = unique(showing.role for showing in task.showings)
    tap = job.vehicle.model.network[task.network].tap
    place = f" ({clause(tap)})" if tap else ""
    text = f"clip on to {task.network}{place}, ignition on, record once, {minutes(task.seconds)}"
    if shown:
        exercises = "exercise" if len(task.showings) == 1 else "exercises"
        text += f", and do the {exercises} of the checklist meanwhile ({listing(shown, most=MOST_ROLES)})"
        if any(showing.mark for showing in task.showings):
            text += ", noting from when to when"
    if task.running:
        text += f". {listing(task.running)} only {'has' if len(task.running) == 1 else 'have'} to be there"
    if task.silent:
        text += f". Look whether the vehicle has, and uses, what sends {listing(task.silent)}"
    if task.misdeclared:
        text += ". Check the pins: last time it was another pair"
    return sentence(text)


def minutes(seconds: int) -> str:
    """A recording time in words: ``about 2 minutes``."""
    whole, rest = divmod(seconds, 60)
    if rest:
        return f"about {whole}½ minutes" if whole else "about half a minute"
    return f"about {counted(whole, 'minute')}"


def _again(job: LoadedJob, trip: bool, questions: bool) -> str:
    """Judge anew with what was found."""
    if not trip:
        return f"Then run {command(job)} again."
    facts = f", the facts to {job.vehicle.file.name}" if questions else ""
    if job.file is None:
        return (
            "Back at the desk: write a job file with this job's items, the captures, times and readouts"
            f"{facts.replace(', the facts', '; add the facts')}, and run netcheck plan on it."
        )
    return (
        f"Back at the desk: add the captures, times and readouts to {job.file.name}{facts}, and run "
        f"{command(job)} again."
    )


def _then(job: LoadedJob, items: tuple[ItemResult, ...], writes: tuple[Write, ...]) -> tuple[str, ...]:
    """Fitting, coding and proof of what can be fitted; plain words about what cannot."""
    ready = [item for item in items if item.verdict in FITTABLE]
    no_go = unique(item.retrofit for item in items if item.verdict is Verdict.NO_GO)
    unproven = unique(item.retrofit for item in items if item.verdict is Verdict.UNPROVEN)
    steps = []
    if ready:
        stopped = [item for item in items if item.verdict not in FITTABLE]
        steps.append(_fit_text(job, ready, stopped, writes))
    if no_go:
        steps.append(f"Do not fit {listing(no_go)} while the verdict is no-go.{_in_the_end(items)}")
    if unproven:
        steps.append(f"Do not fit {listing(unproven)} while the verdict is unproven.")
    return tuple(steps)


def _in_the_end(items: tuple[ItemResult, ...]) -> str:
    """What it comes to if the captures show what is missing no better."""
    roles = unique(
        need.role
        for item in items
        for need in item.needs
        if need.status is Status.MISSING and need.reason in RECAPTURE and not need.optional
    )
    if not roles:
        return ""
    verb = "stays" if len(roles) == 1 else "stay"
    return f" If {listing(roles)} {verb} missing, the part needs another source, or is not for this vehicle."


def _fit_text(
    job: LoadedJob, ready: list[ItemResult], stopped: list[ItemResult], writes: tuple[Write, ...]
) -> str:
    """Fit, code, prove; a block that also holds a change for a part that is not to be fitted is held back."""
    rows = [row for item in ready for row in item.coding]
    wanted = [write for write in writes if any(in_write(row, write) for row in rows)]
    held = [write for write in wanted if _shared_with(stopped, write)]
    modules = coding_order(job, {write.module for write in wanted if write not in held})
    code = f", then code {listing(modules, last='and then')}" if modules else ""
    names = listing(unique(item.retrofit for item in ready))
    text = sentence(f"Fit {names} by the checklist{code}, then prove every need with its exercise")
    if held:
        blocks = listing([f"{write.module} {write.did}" for write in held])
        others = listing(unique(name for write in held for name in _shared_with(stopped, write)))
        holds = "it also holds" if len(held) == 1 else "they also hold"
        text += (
            f" Do not code {blocks} from this plan: {holds} a change for {others}. "
            f"Run it without {others} first."
        )
    return text


def _shared_with(items: list[ItemResult], write: Write) -> tuple[str, ...]:
    """The items whose changes a write holds too."""
    return unique(item.retrofit for item in items if any(in_write(row, write) for row in item.coding))
