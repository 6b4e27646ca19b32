"""A search for a role: candidates, and what to do next."""

from netcheck.report._find import behind_counts, candidate_text, find_json, find_text, note_texts
from netcheck.report._find_words import PROBLEM_REMEDIES, hits_text, problem_text

__all__ = [
    "PROBLEM_REMEDIES",
    "behind_counts",
    "candidate_text",
    "find_json",
    "find_text",
    "hits_text",
    "note_texts",
    "problem_text",
]
