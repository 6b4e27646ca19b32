"""Needs, observations and coding to statuses, reasons, conflicts and questions."""

from netcheck.verdict._captures import JobCaptures, NetworkCaptures, Progress
from netcheck.verdict._coding_requests import ItemCoding, request_coding
from netcheck.verdict._conflicts import conflicts, notes, questions
from netcheck.verdict._context import PlanContext, plan_context
from netcheck.verdict._lint import vehicle_lint
from netcheck.verdict._model import (
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
from netcheck.verdict._needs import case_of, judge, tried
from netcheck.verdict._rules import STATUS
from netcheck.verdict._texts import milliseconds

__all__ = [
    "STATUS",
    "ChannelUse",
    "Conflict",
    "ConflictKind",
    "ItemCoding",
    "ItemResult",
    "JobCaptures",
    "NeedResult",
    "NetworkCaptures",
    "Plan",
    "PlanContext",
    "Progress",
    "Question",
    "Reason",
    "Status",
    "Step",
    "Verdict",
    "case_of",
    "conflicts",
    "judge",
    "milliseconds",
    "notes",
    "plan_context",
    "questions",
    "request_coding",
    "tried",
    "vehicle_lint",
]
