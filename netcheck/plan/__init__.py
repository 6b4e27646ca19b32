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
    "make_plan",
]
