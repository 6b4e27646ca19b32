"""A plan beside the oracle's outcome."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

from netcheck.errors import InputError
from netcheck.verdict import ItemResult, Question
from tests.acceptance.oracle import BadJob, ItemOutcome, judge
from tests.acceptance.small_jobs import Job, case_of


def difference(job: Job, folder: Path, seen: Counter[str] | None = None) -> list[str]:
    """What the oracle and the plan say differently, one line each; what the oracle found is counted."""
    try:
        outcome = judge(job)
    except BadJob:
        outcome = None
    try:
        plan = case_of(job, folder).plan()
    except InputError as error:
        if seen is not None:
            seen["error"] += 1
        return [] if outcome is None else [f"error: none / {error}"]
    if outcome is None:
        return ["error: some / none"]
    found = [] if outcome.verdict == plan.verdict else [f"verdict: {outcome.verdict} / {plan.verdict}"]
    writes = tuple(sorted((w.module, int(w.did, 16), w.before, w.after) for w in plan.writes))
    found += [] if outcome.writes == writes else [f"writes: {outcome.writes} / {writes}"]
    for number, (ours, theirs) in enumerate(zip(outcome.items, plan.items, strict=True)):
        found += [f"item {number} {line}" for line in _item(ours, theirs)]
        if seen is not None:
            seen.update(told_by(ours))
    return sorted(found, key=lambda line: "verdict" in line)


def _item(ours: ItemOutcome, theirs: ItemResult) -> list[str]:
    if len(ours.needs) != len(theirs.needs):
        return [f"needs: {len(ours.needs)} / {[need.role for need in theirs.needs]}"]
    found = []
    for told, need in zip(ours.needs, theirs.needs, strict=True):
        asked = f"need {need.role} ({need.asks})"
        pairs = [
            ("status", told.status, need.status),
            ("reason", told.reason, need.reason),
            ("evidence", told.evidence, need.evidence),
            ("network", told.network, need.network),
        ]
        for what, one, other in pairs:
            if one not in ("?", other):
                found.append(f"{asked} {what}: {one} / {other} [{told.reason}]")
    rows = sorted(
        (r.module, r.field, str(r.status), str(r.from_), str(r.to), str(r.before), str(r.after))
        for r in theirs.coding
    )
    ours_rows = [(r.module, r.field, r.status, r.from_, r.to, r.before, r.after) for r in ours.rows]
    pairs = [
        ("conflicts", sorted(ours.conflicts), sorted({str(c.kind) for c in theirs.conflicts})),
        ("questions", sorted(ours.questions), sorted({_question(q) for q in theirs.questions})),
        ("rows", ours_rows, rows),
        ("verdict", ours.verdict, str(theirs.verdict)),
    ]
    return found + [f"{what}: {one} / {other}" for what, one, other in pairs if one != other]


def told_by(item: ItemOutcome) -> list[str]:
    """The verdict, reasons, conflicts and kinds of questions of an item, to be counted."""
    questions = {f"question {question.split()[0]}" for question in item.questions}
    return [item.verdict, *item.conflicts, *questions, *(told.reason for told in item.needs)]


def _question(question: Question) -> str:
    return f"fact {question.subject}" if str(question.kind) == "fact" else str(question.kind)
