"""Needs, evidence and coding to verdicts, conflicts and a checklist."""

from netcheck.plan._make import make_plan
from netcheck.plan._model import (
    ChannelUse,
    Conflict,
    ConflictKind,
    ItemResult,
    NeedResult,
    Plan,
    Question,
    Reason,
    Status,
    Step,
    Verdict,
)
from netcheck.plan._visit import Visit, visits, with_recording

__all__ = [
    "ChannelUse",
    "Conflict",
    "ConflictKind",
    "ItemResult",
    "NeedResult",
    "Plan",
    "Question",
    "Reason",
    "Status",
    "Step",
    "Verdict",
    "Visit",
    "make_plan",
    "visits",
    "with_recording",
]
