"""A search for a role: candidates, what to do next, and the draft that it extends."""

from netcheck.report._draft import (
    DraftFile,
    draft_conflicts,
    draft_entries,
    draft_vehicle_text,
    with_comments,
)
from netcheck.report._find import behind_counts, candidate_text, find_json, find_text, note_texts
from netcheck.report._find_quantity import quantity_json, quantity_text
from netcheck.report._find_quantity_words import QUANTITY_PROBLEM_REMEDIES, QUANTITY_PROBLEM_WORDS
from netcheck.report._find_words import PROBLEM_REMEDIES, hits_text, problem_text

__all__ = [
    "PROBLEM_REMEDIES",
    "QUANTITY_PROBLEM_REMEDIES",
    "QUANTITY_PROBLEM_WORDS",
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
    "quantity_json",
    "quantity_text",
    "with_comments",
]
