"""A search for a role: candidates, what to do next, and the draft that it extends."""

from netcheck.report._draft import (
    DraftFile,
    draft_conflicts,
    draft_entries,
    draft_vehicle_text,
    with_comments,
)
from netcheck.report._find import find_json, find_text
from netcheck.report._find_words import PROBLEM_REMEDIES, problem_text

__all__ = [
    "PROBLEM_REMEDIES",
    "DraftFile",
    "draft_conflicts",
    "draft_entries",
    "draft_vehicle_text",
    "find_json",
    "find_text",
    "problem_text",
    "with_comments",
]
