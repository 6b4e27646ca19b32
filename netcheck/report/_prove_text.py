"""A comparison before and after a fitting as text for people: what is different comes first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from netcheck.prove import (
    ChangeKind,
    NotAfter,
    Proof,
    ProvenNeed,
    ProveVerdict,
    SameRecording,
    VehicleChange,
)
from netcheck.report._page import Page, Style
from netcheck.report._plan_words import STATUS_SIGNS, STATUS_STYLES
from netcheck.report._promise_words import latency_text, promise_text
from netcheck.report._prove_words import (
    change_head,
    change_next,
    change_text,
    prove_note_text,
)
from netcheck.report._reasons import STATUS_WORDS, advice, seen_text
from netcheck.verdict import ChannelUse, Status
from netcheck.words import counted, listing, sentence, unique

_VERDICTS: Final = {
    ProveVerdict.PASS: ("PASS – all that the job needs is shown, and nothing else changed.", Style.GOOD),
    ProveVerdict.PASS_WITH_NOTES: (
        "PASS WITH NOTES – all that the job needs is shown; read the notes.",
        Style.GOOD,
    ),
    ProveVerdict.NOT_SHOWN: ("NOT SHOWN – do not hand over yet.", Style.DOUBT),
    ProveVerdict.FAIL: ("FAIL – do not hand over.", Style.BAD),
}
WIDEST_NAME: Final = 22
MOST_HEADS: Final = 4  # what several changes that ask for the same are about


def prove_text(proof: Proof, *, width: int = 80, colour: bool = False, verbose: bool = False) -> str:
    """The comparison as text for people.

    width: columns, no line is longer; less than 40 counts as 40
    colour: with ANSI escape sequences; without them the text is the same
    verbose: with what is shown and planned in full
    """
    page = Page(width)
    page.text(f"After fitting {proof.job}: {proof.vehicle}, model year {proof.model_year}")
    page.blank()
    page.text(prove_headline(proof), style=prove_style(proof))
    if proof.sameness.is_same is False:
        _write_changes(page, "Why", proof.changes)
        _write_captures(page, proof)
        return page.render(colour=colour)
    page.text(in_one_line(proof))
    for label, why in reasons(proof):
        page.entry(f"{label}:", sentence(why))
    page.text(vehicle_text(proof))
    _write_changes(page, "Not planned", [change for change in proof.changes if not change.is_planned])
    _write_broken(page, proof)
    _write_needs(page, proof, verbose=verbose)
    _write_promises(page, proof, verbose=verbose)
    _write_exercises(page, proof)
    if proof.notes:
        page.heading("Notes")
        for note in proof.notes:
            page.entry("-", sentence(prove_note_text(note)))
    _write_captures(page, proof)
    return page.render(colour=colour)


def prove_headline(proof: Proof) -> str:
    """The verdict and what it asks of people."""
    if proof.sameness.is_same is False:
        return "ANOTHER VEHICLE – the captures from after the fitting prove nothing here."
    return _VERDICTS[proof.verdict][0]


def prove_style(proof: Proof) -> Style:
    """Whether that is good, doubtful or bad."""
    return Style.BAD if proof.sameness.is_same is False else _VERDICTS[proof.verdict][1]


def in_one_line(proof: Proof) -> str:
    """``As before: 42 of 43 messages; new: 3, planned; gone: 1, not planned.``"""
    parts = [f"As before: {proof.unchanged} of {counted(proof.compared, 'message')}"]
    for word, kind in (("new", ChangeKind.MESSAGE_NEW), ("gone", ChangeKind.MESSAGE_GONE)):
        found = [change.is_planned for change in proof.changes if change.kind is kind]
        if found:
            planned = "planned" if all(found) else "not planned"
            if any(found) and not all(found):
                planned = f"{len(found) - sum(found)} of them not planned"
            parts.append(f"{word}: {len(found)}, {planned}")
    others = [c for c in proof.changes if c.kind not in {ChangeKind.MESSAGE_NEW, ChangeKind.MESSAGE_GONE}]
    for kind in unique(change.kind for change in others if not change.is_planned):
        number = sum(change.kind is kind and not change.is_planned for change in others)
        parts.append(f"{kind.value.replace('-', ' ')}: {number}")
    return "; ".join(parts) + "."


def reasons(proof: Proof) -> Iterator[tuple[str, str]]:
    """(label, clause): what decides against handing over, beside what changed."""
    firm = [need for need in proof.needs if not need.result.optional]
    missing = unique(need.result.role for need in firm if need.result.status is Status.MISSING)
    open_ = {Status.EXPECTED, Status.AFTER_CODING}
    unshown = unique(need.result.role for need in firm if need.result.status in open_)
    late = unique(need.result.role for need in firm if need.is_too_late)
    if missing:
        yield "Missing", listing(missing, most=4)
    if late:
        yield "Too late", listing(late, most=4)
    broken = [promise_text(promise) for promise in proof.promises if promise.is_kept is False]
    if broken:
        yield "Planned and not so", listing(broken, most=2)
    if unshown:
        yield "Not shown", listing(unshown, most=4)
    unseen = sum(promise.is_kept is None for promise in proof.promises)
    if unseen:
        yield "Not read or recorded", counted(unseen, "planned change")
    networks = [note.network for note in proof.notes if isinstance(note, NotAfter)]
    if networks:
        yield "Not captured after", listing(networks)
    same = [note.after for note in proof.notes if isinstance(note, SameRecording)]
    if same:
        yield "The same recording as before", listing(unique(same))


def prove_next(proof: Proof) -> list[str]:
    """What to do after the comparison, most urgent first."""
    asked: dict[str, list[str]] = {}
    for change in proof.changes:
        if change_next(change):
            asked.setdefault(change_next(change), []).append(change_head(change))
    if proof.sameness.is_same is False:
        return list(asked)
    texts = [f"{listing(unique(heads), most=MOST_HEADS)}: {text}" for text, heads in asked.items()]
    broken = [promise for promise in proof.promises if promise.is_kept is False]
    texts += [f"Find out why: {sentence(promise_text(promise))}" for promise in broken]
    for need in proof.needs:
        if need.is_too_late:
            texts.append(f"Find out why {need.result.role} of {need.item} reacts too late.")
        elif _is_open(need) and not need.result.optional:
            texts.append(f"{need.result.role}: {sentence(str(advice(need.result)))}")
    texts += _to_record(proof)
    unseen = sum(promise.is_kept is None for promise in proof.promises)
    if unseen:
        texts.append(f"Read or record the {counted(unseen, 'planned change')} that nobody has seen yet.")
    if proof.verdict in {ProveVerdict.PASS, ProveVerdict.PASS_WITH_NOTES}:
        notes = " Read the notes first." if proof.notes else ""
        return [f"Hand the vehicle over, by the last stage of the work order.{notes}"]
    return [*unique(texts), "Then compare again: netcheck prove."]


def _to_record(proof: Proof) -> Iterator[str]:
    missed = [note.network for note in proof.notes if isinstance(note, NotAfter)]
    if missed:
        yield f"Record {listing(missed)} again, as it was recorded before."
    same = [note.after for note in proof.notes if isinstance(note, SameRecording)]
    if same:
        yield f"Record again after the fitting, in place of {listing(unique(same))}."


def counts_of(proof: Proof, item: str) -> str:
    """``2 of 4 needs shown, 1 of 1 supplied role shown``, of one item; "" where it was not judged."""
    return _count([need for need in proof.needs if need.item == item])


def vehicle_text(proof: Proof) -> str:
    """Whether it is the same vehicle, and what tells."""
    if proof.sameness.vin is not None:
        return f"The same vehicle: VIN {proof.sameness.vin} before and after."
    if proof.sameness.is_same:
        number = counted(proof.sameness.names, "J1939 device number")
        return f"The same vehicle: {number} before and after."
    return "Whether it is the same vehicle, nothing in the captures tells."


def _write_changes(page: Page, heading: str, changes: Sequence[VehicleChange]) -> None:
    if not changes:
        return
    page.heading(heading, Style.BAD)
    for change in changes:
        head = f"X {change.kind.value}"
        page.entry(head, sentence(change_text(change)), column=20, style=Style.BAD)
        if change_next(change):
            page.entry("→", change_next(change), indent=20)


def _write_broken(page: Page, proof: Proof) -> None:
    """Planned changes that did not happen, and delays over their limit."""
    broken = [promise for promise in proof.promises if promise.is_kept is False]
    late = [need for need in proof.needs if need.is_too_late]
    if not broken and not late:
        return
    page.heading("Planned and not so", Style.BAD)
    for promise in broken:
        page.entry("X", f"{promise.item}: {sentence(promise_text(promise))}", column=2, style=Style.BAD)
    for need in late:
        for latency in need.latencies:
            if latency.is_too_late:
                text = f"{need.item}: {need.result.role} reacts too late: {latency_text(latency)}."
                page.entry("X", text, column=2, style=Style.BAD)


def _write_needs(page: Page, proof: Proof, *, verbose: bool) -> None:
    for item in unique(need.item for need in proof.needs):
        own = [need for need in proof.needs if need.item == item]
        page.heading(f"{item}: {_count(own)}")
        groups = _alike(sorted(own, key=_rank))
        column = min(max(len(alike[0].result.role) for alike in groups) + 4, WIDEST_NAME)
        for alike in groups:
            _write_need(page, alike, column, verbose=verbose)


def _alike(needs: Sequence[ProvenNeed]) -> list[list[ProvenNeed]]:
    """Open needs of which the same is said, together; the others one by one."""
    groups: dict[object, list[ProvenNeed]] = {}
    for need in needs:
        result = need.result
        is_single = not _is_open(need) or bool(need.latencies)
        key = result.role if is_single else (need.is_supplied, result.optional, seen_text(result))
        groups.setdefault((need.is_supplied, key), []).append(need)
    return list(groups.values())


def _is_open(need: ProvenNeed) -> bool:
    return need.result.status not in {Status.SHOWN, Status.SUPPLIED}


def _rank(need: ProvenNeed) -> int:
    order = (Status.MISSING, Status.EXPECTED, Status.AFTER_CODING, Status.SUPPLIED, Status.SHOWN)
    return order.index(need.result.status) + (len(order) if need.result.optional else 0)


def _count(needs: Sequence[ProvenNeed]) -> str:
    parts = []
    for title, is_supplied in (("need", False), ("supplied role", True)):
        own = [need for need in needs if need.is_supplied is is_supplied]
        shown = sum(need.result.status in {Status.SHOWN, Status.SUPPLIED} for need in own)
        if own:
            parts.append(f"{shown} of {counted(len(own), title)} shown")
    return ", ".join(parts)


def _write_need(page: Page, alike: Sequence[ProvenNeed], column: int, *, verbose: bool) -> None:
    need = alike[0]
    result, is_open = need.result, _is_open(need)
    sign = "-" if result.optional and is_open else STATUS_SIGNS[result.status]
    style = Style.PLAIN if sign == "-" else STATUS_STYLES[result.status]
    word = result.evidence if result.status is Status.SHOWN else STATUS_WORDS[result.status]
    aside = ("optional, " if result.optional else "") + ("supplied, " if need.is_supplied else "")
    names = ", ".join(unique(one.result.role for one in alike))
    page.entry(f"{sign} {names}", f"{aside}{word}: {seen_text(result)}", column=column, style=style)
    for latency in need.latencies if verbose else need.foremost:
        page.text(f"delay: {latency_text(latency)}", indent=column)
    if is_open and not result.optional:
        for todo in unique(str(advice(one.result)) for one in alike):
            page.entry("→", todo, indent=column)


def _write_promises(page: Page, proof: Proof, *, verbose: bool) -> None:
    """Planned changes: those that happened in short, those that nobody saw in full."""
    lines = list(_planned(proof, verbose=verbose))
    if not lines:
        return
    page.heading("Planned changes")
    for sign, text, style in lines:
        page.entry(sign, text, column=2, style=style)


def _planned(proof: Proof, *, verbose: bool) -> Iterator[tuple[str, str, Style]]:
    for promise in proof.promises:
        if promise.is_kept is None:
            yield "?", f"{promise.item}: {sentence(promise_text(promise))}", Style.DOUBT
    kept = [promise for promise in proof.promises if promise.is_kept]
    for promise in kept:
        yield "+", f"{promise.item}: {sentence(promise_text(promise))}", Style.GOOD
    planned = [change for change in proof.changes if change.is_planned]
    for kind in unique(change.kind for change in planned if change.kind is not ChangeKind.CODING_CHANGED):
        names = [change_head(change) for change in planned if change.kind is kind]
        yield "+", f"{kind.value}: {listing(names, most=0 if verbose else 4)}.", Style.GOOD


def _write_exercises(page: Page, proof: Proof) -> None:
    if not proof.exercises:
        return
    done = [exercise for exercise in proof.exercises if exercise.is_done]
    open_ = unique(exercise.role for exercise in proof.exercises if not exercise.is_done)
    page.heading(f"Exercises: {len(done)} of {len(proof.exercises)} done")
    marked = unique(f"{e.role} ({e.answered} of {e.marks})" for e in done if e.marks)
    moved = unique(e.role for e in done if not e.marks)
    if marked:
        page.entry("Marked and answered:", f"{listing(marked)}.")
    if moved:
        page.entry("Moved, not marked:", f"{listing(moved)}.")
    if open_:
        page.entry("Not done:", f"{listing(open_)}.")


def _write_captures(page: Page, proof: Proof) -> None:
    page.heading("Compared")
    for word, uses in (("before", proof.before), ("after", proof.after)):
        if not uses:
            page.entry(f"{word}:", "no capture", column=8)
        for use in uses:
            page.entry(f"{word}:", _capture_text(use), column=8)
    for network in proof.networks:
        if network.loads is not None:
            before, after = (f"{100 * load:.1f} %" for load in network.loads)
            page.entry(f"{network.network}:", f"load {before} before, {after} after, in the same state")
        if network.sleeps is not None:
            slept = " before, ".join(f"{seconds:.1f} s" for seconds in network.sleeps)
            page.entry(f"{network.network}:", f"asleep {slept} after, from terminal 15 off")


def _capture_text(use: ChannelUse) -> str:
    network = use.network or "none of the vehicle's networks"
    return f"{use.file}, {use.channel}: {network}, {counted(use.frames, 'frame')} in {use.seconds:.0f} s"
