"""A search for a role: candidates, what to do next, and the draft that it extends."""

from netcheck.report._draft import (
    DraftFile,
    draft_conflicts,
    draft_entries,
    draft_vehicle_text,
    with_comments,
)
from netcheck.report._find import behind_counts, candidate_text, find_json, find_text, note_texts
from netcheck.report._find_words import PROBLEM_REMEDIES, hits_text, problem_text

__all__ = [
    "PROBLEM_REMEDIES",
    "DraftFile",
    "behind_counts",
    "candidate_text",
    "draft_conflicts",
    "draft_entries",
    "draft_vehicle_text",
    "find_json",
    "find_text",
    "hits_text",
    "note_texts",
    "problem_text",
    "with_comments",
]
