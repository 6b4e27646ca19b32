"""The checklist: what a person does at the vehicle, in phases, to be worked through on paper."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

from netcheck.coding import CodingRow, CodingStatus, Write
from netcheck.files import LoadedItem, LoadedJob
from netcheck.verdict import ChannelUse, ItemResult, NeedResult, Status, Step, Verdict
from netcheck.words import bit_rates, clause, listing, sentence, spaced, unique
from netcheck.work._desk import desk_work
from netcheck.work._exercises import Exercises, together
from netcheck.work._next import minutes
from netcheck.work._todo import (
    FITTABLE,
    CaptureTask,
    ReadoutTask,
    captures_to_take,
    coding_order,
    in_write,
    readouts_to_take,
    suppliers,
)

# Common practice, from the trade; the retrofit files bring the cautions of their own work.
RECORDING: Final = "Only listen: the logger sends nothing. Whoever drives does nothing else."
UNGIVEN: Final = "no exercise is given: put it into its other state for 3 seconds, then back"
CODING: Final = (
    "netcheck writes nothing to a vehicle: code with your own authorised equipment, vehicle standing, "
    "steady supply voltage. Read each block again just before writing; if it is not the old one below, stop."
)


def checklist(
    job: LoadedJob,
    items: tuple[ItemResult, ...],
    writes: tuple[Write, ...],
    captures: tuple[ChannelUse, ...],
) -> tuple[Step, ...]:
    """The steps in phases: before, fit, code, prove. ``items`` stand in the job's order.

    A no-go item has only what could turn it, in ``before``. An unproven one has all phases, each behind
    a caution to wait for the verdict.
    """
    return (
        *_before(job, items, captures),
        *_fit(job, items),
        *_code(job, items, writes),
        *_prove(job, items),
    )


def _before(
    job: LoadedJob, items: tuple[ItemResult, ...], captures: tuple[ChannelUse, ...]
) -> Iterator[Step]:
    tasks = captures_to_take(job, items, captures)
    readouts = readouts_to_take(items)
    yield from _cautions(items, bool(tasks))
    for text in desk_work(job, items):
        yield Step("before", "", text)
    for task in tasks:
        yield from _capture_steps(job, task)
    for readout in readouts:
        yield Step("before", "", _readout_text(job, readout))
    yield from _questions(job, items)
    for loaded, item in zip(job.items, items, strict=True):
        if item.verdict is not Verdict.NO_GO:
            yield from _hand_work(loaded, "before")


def _questions(job: LoadedJob, items: tuple[ItemResult, ...]) -> Iterator[Step]:
    for fact in unique(question.fact for item in items for question in item.questions):
        asking = [
            (loaded.retrofit.name, match)
            for loaded in job.items
            for match in loaded.retrofit.match
            if match.fact == fact
        ]
        wanted = unique(
            f"{name} needs {listing([str(choice) for choice in match.any_of], last='or')}"
            + (f" ({clause(match.why)})" if match.why else "")
            for name, match in asking
        )
        text = f"Find out {fact}: ____________ {'; '.join(wanted)}"
        yield Step("before", _one(unique(name for name, _ in asking)), sentence(text))


def _cautions(items: tuple[ItemResult, ...], recording: bool) -> Iterator[Step]:
    """What holds for the whole job first, then each item's own."""
    no_go = unique(item.retrofit for item in items if item.verdict is Verdict.NO_GO)
    if no_go:
        text = f"Do not fit {listing(no_go)}: no-go. The steps here are only those that could turn it."
        yield Step("before", "", text, caution=True)
    if recording:
        yield Step("before", "", RECORDING, caution=True)
    said: dict[str, list[str]] = {}
    for item in items:
        for caution in item.cautions:
            said.setdefault(sentence(caution), []).append(item.retrofit)
    owned = [(_one(unique(names)), text) for text, names in said.items()]
    for owner in ("", *unique(item.retrofit for item in items)):
        for name, text in owned:
            if name == owner:
                yield Step("before", owner, text, caution=True)


def _one(names: tuple[str, ...]) -> str:
    """The item a step belongs to; "" for one that several share."""
    return names[0] if len(names) == 1 else ""


def _capture_steps(job: LoadedJob, task: CaptureTask) -> Iterator[Step]:
    network = job.vehicle.model.network[task.network]
    tap = network.tap or "the pair's place is not in the vehicle file: see the wiring diagram"
    rate = bit_rates(network.bitrate, network.fd_bitrate)
    text = f"Record {task.network} ({rate}; {clause(tap)}): ignition on, {minutes(task.seconds)}, one file"
    if task.misdeclared:
        text += f". Check the pins first: {listing(task.misdeclared)}"
    if task.silent:
        text += f". Look whether the vehicle has, and uses, what sends {listing(task.silent)}"
    if task.running:
        text += f". It has to hold {listing(task.running)}"
    if task.showings:
        text += ". In it, 10 s apart:"
    yield Step("before", "", sentence(text))
    marks = {showing.role: showing.mark for showing in task.showings}
    optional = {showing.role for showing in task.showings if showing.optional}
    for group in together((showing.role, showing.do or UNGIVEN, showing.state) for showing in task.showings):
        yield Step("before", "", _showing_text(group, marks, optional))


def _showing_text(group: Exercises, marks: Mapping[str, str], optional: set[str]) -> str:
    """An exercise with blanks for its times."""
    aside = " (optional)" if optional.issuperset(group.roles) else ""
    text = f"{group.title}{aside}: {sentence(group.do)}"
    noted = [role for role in group.roles if marks[role]]
    if not noted:
        return text
    state = "Active" if group.state == "active" else f"At {group.state}"
    if "range" in {marks[role] for role in noted}:
        state = "Between ____ and ____"
    if len(group.roles) == 1:
        return f"{text} {state} from ____ to ____ s"
    times = ", ".join(f"{role.rpartition('.')[2]} ____ – ____" for role in noted)
    return f"{text} {state} from – to, in s: {times}"


def _readout_text(job: LoadedJob, task: ReadoutTask) -> str:
    module = job.vehicle.model.module[task.module]
    ids = ""
    if module.request_id is not None and module.response_id is not None:
        ids = f"request id 0x{module.request_id:X}, response id 0x{module.response_id:X}"
    block = module.coding.get(int(task.did, 16))
    length = block.length if block else 0
    blanks = " ".join(["__"] * length) if length <= 8 else f"{length} bytes ____________"
    return (
        f"Read coding block {task.did} of {_titled(job, task.module, ids)} "
        f"for {listing(task.fields)}: {blanks}"
    )


def _titled(job: LoadedJob, module: str, *asides: str) -> str:
    """``engine (Engine control)``; the key alone where the title adds nothing and nothing else is said."""
    found = job.vehicle.model.module.get(module)
    title = found.title if found else ""
    told = [text for text in (title if title.lower() != module.lower() else "", *asides) if text]
    return f"{module} ({'; '.join(told)})" if told else module


def _hand_work(loaded: LoadedItem, phase: str) -> Iterator[Step]:
    for step in loaded.retrofit.step:
        if step.phase == phase:
            yield Step(phase, loaded.retrofit.name, sentence(step.text))


def _fit(job: LoadedJob, items: tuple[ItemResult, ...]) -> Iterator[Step]:
    for index, (loaded, item) in enumerate(zip(job.items, items, strict=True)):
        if item.verdict is Verdict.NO_GO:
            continue
        yield from _wait(item, "fit", "Do not fit")
        held = [other for other in suppliers(job, items, index) if other.verdict not in FITTABLE]
        for other in held:
            text = (
                f"Do not fit without {other.retrofit} ({other.verdict.value}): it supplies what this needs."
            )
            yield Step("fit", item.retrofit, text, caution=True)
        yield from _hand_work(loaded, "fit")


def _wait(item: ItemResult, phase: str, what: str) -> Iterator[Step]:
    if item.verdict is Verdict.UNPROVEN:
        text = f"{what} {item.retrofit} yet: unproven. Wait until the plan says go or go with changes."
        yield Step(phase, item.retrofit, text, caution=True)


def _code(job: LoadedJob, items: tuple[ItemResult, ...], writes: tuple[Write, ...]) -> Iterator[Step]:
    going = [item for item in items if item.verdict is not Verdict.NO_GO]
    rows = [(item, row) for item in going for row in item.coding if row.did is not None]
    to_do = [(item, row) for item, row in rows if row.status in {CodingStatus.TO_DO, CodingStatus.UNKNOWN}]
    if to_do:
        yield Step("code", "", CODING, caution=True)
    for item in going:
        if any(owner is item for owner, _ in to_do):
            yield from _wait(item, "code", "Do not code for")
    stopped = [(item.retrofit, row) for item in items if item.verdict is Verdict.NO_GO for row in item.coding]
    ordered = coding_order(job, {row.module for _, row in to_do})
    for module in ordered:
        why = _order_text(job, module) if len(ordered) > 1 else ""
        here = [(item.retrofit, row) for item, row in to_do if row.module == module]
        for did in sorted({row.did or "" for _, row in here}):
            block = [(name, row) for name, row in here if row.did == did]
            write = next((entry for entry in writes if (entry.module, entry.did) == (module, did)), None)
            yield _block_step(job, block, write, stopped, why)
    for loaded, item in zip(job.items, items, strict=True):
        if item.verdict is not Verdict.NO_GO:
            yield from _hand_work(loaded, "code")
    if to_do:
        how = f": netcheck coding {job.file.as_posix()} --readback FILE" if job.file else " byte by byte."
        yield Step("code", "", f"Read the written blocks again and compare{how}")


def _order_text(job: LoadedJob, module: str) -> str:
    found = job.vehicle.model.module.get(module)
    if found is None or found.coding_order is None:
        return ""
    return f" {found.coding_order.capitalize()}: {clause(found.coding_why or 'the vehicle file says so')}."


def _block_step(
    job: LoadedJob,
    block: list[tuple[str, CodingRow]],
    write: Write | None,
    stopped: list[tuple[str, CodingRow]],
    why: str,
) -> Step:
    """One block: old → new with the way back; or why it cannot be written as it stands."""
    first = block[0][1]
    place = f"{_titled(job, first.module)} {first.did}"
    owner = _one(unique(name for name, _ in block))
    if any(row.status is CodingStatus.UNKNOWN for _, row in block) or write is None:
        values = listing([f"{row.field} = {row.to}" for row in _once(block)])
        return Step("code", owner, f"Code {place}: {values}; the bytes follow once the block is read.{why}")
    held = unique(name for name, row in stopped if in_write(row, write))
    if held:
        text = (
            f"Do not write {place} from this plan: the block holds a change for {listing(held)}, which is "
            f"no-go. Run the plan without it first.{why}"
        )
        return Step("code", owner, text, caution=True)
    changes = listing([f"{row.field} {_or_unknown(row.from_)} → {row.to}" for row in _once(block)])
    return Step(
        "code",
        owner,
        f"Write {place}: {spaced(write.before)} → {spaced(write.after)} ({changes}). "
        f"The way back: {spaced(write.before)}.{why}",
    )


def _once(block: list[tuple[str, CodingRow]]) -> list[CodingRow]:
    """One row a field: several items may want the same change."""
    return list({row.field: row for _, row in block}.values())


def _or_unknown(value: str | int | None) -> str | int:
    return "unknown" if value is None else value


def _prove(job: LoadedJob, items: tuple[ItemResult, ...]) -> Iterator[Step]:
    going = [pair for pair in zip(job.items, items, strict=True) if pair[1].verdict is not Verdict.NO_GO]
    for _, item in going:
        yield from _wait(item, "prove", "Nothing to prove for")
    networks = unique(need.network for _, item in going for need in item.needs if need.network is not None)
    if networks:
        text = f'Record {listing(networks)} again meanwhile, as the proof (in the job file: when = "after").'
        yield Step("prove", "", text)
    for index, (loaded, item) in enumerate(zip(job.items, items, strict=True)):
        if item.verdict is Verdict.NO_GO:
            continue
        yield from _exercises(loaded, item, suppliers(job, items, index))
        yield from _hand_work(loaded, "prove")


def _exercises(loaded: LoadedItem, item: ItemResult, from_items: tuple[ItemResult, ...]) -> Iterator[Step]:
    """Every exercise of the retrofit, then the needs that none of them shows, in one line.

    An optional need that is missing is left out: there is nothing to prove.
    """
    missing = {need.role for need in item.needs if need.status is Status.MISSING}
    needs = {need.role: need for need in item.needs if need.role not in missing}
    exercises = [entry for entry in loaded.retrofit.exercise if entry.role not in missing]
    for group in together((exercise.role, exercise.do, exercise.state) for exercise in exercises):
        shown = [needs[role] for role in group.roles if role in needs]
        yield Step("prove", item.retrofit, _exercise_text(group, shown, from_items))
    done = {exercise.role for exercise in exercises}
    rest = unique(role for role in needs if role not in done)
    if rest:
        text = f"Show that the part reacts to {listing(rest)} (no exercise is given)."
        yield Step("prove", item.retrofit, text)


def _exercise_text(group: Exercises, needs: list[NeedResult], from_items: tuple[ItemResult, ...]) -> str:
    text = f"{group.title}: {sentence(group.do)}"
    whys = unique(clause(need.why) for need in needs)
    if len(whys) == 1 and whys[0]:
        text += f" Proves: {whys[0]}."
    if any(need.status is Status.SUPPLIED for need in needs) and from_items:
        text += f" Comes from {listing(unique(other.retrofit for other in from_items))}."
    if any(need.status is Status.AFTER_CODING for need in needs):
        text += " First seen now: it appears only with the coding."
    return text
