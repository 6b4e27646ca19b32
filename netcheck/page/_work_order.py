"""The checklist as a work order: boxes to tick and fields to fill in, by stage."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Iterator
from typing import Any

from netcheck.plan import Plan
from netcheck.report import step_text
from netcheck.report.viewing import STAGE_TITLES, due_steps, held_text, step_parts
from netcheck.work import STAGES, Step


def work_order(plan: Plan) -> dict[str, Any]:
    """Stages with their steps. What waits for a better verdict is counted, as on the sheet for paper.

    A step's key depends on what the step says, so that a tick stays with its step where the job is reported
    again, and a step that says something else begins without one.
    """
    due, held = due_steps(plan)
    keys = _Keys()
    stages = [
        {
            "key": stage,
            "title": STAGE_TITLES[stage],
            "steps": [_step(plan, step, keys) for step in due if step.stage == stage],
        }
        for stage in STAGES
    ]
    return {
        "stages": [stage for stage in stages if stage["steps"]],
        "held": held_text(plan, len(held)) if held else "",
        "boxes": sum(not step.caution and not step.is_gate for step in due),
    }


class _Keys:
    """A name for each step, the same every time."""

    def __init__(self) -> None:
        self._seen: Counter[str] = Counter()

    def of(self, *texts: str) -> str:
        digest = hashlib.sha256("\0".join(texts).encode()).hexdigest()[:12]
        self._seen[digest] += 1
        return f"{digest}-{self._seen[digest]}"


def _parts(text: str) -> Iterator[dict[str, Any]]:
    """The pieces of a step's text. gap: a blank stands before it, which a page would swallow at its edge"""
    before = ""
    for part in step_parts(text):
        gap = part.kind == "tick" or before.endswith(" ") or part.text.startswith(" ")
        yield {"kind": part.kind, "text": part.text, "gap": gap and bool(before)}
        before = part.text or "_"


def _step(plan: Plan, step: Step, keys: _Keys) -> dict[str, Any]:
    text = step_text(step.action)
    parts = list(_parts(text))
    return {
        "key": keys.of(step.stage, ",".join(step.items), text),
        "kind": "gate" if step.is_gate else "caution" if step.caution else "box",
        "whose": list(step.items) if len(plan.items) > 1 else [],
        "parts": parts,
        "has_blank": any(part["kind"] == "blank" for part in parts),
    }
