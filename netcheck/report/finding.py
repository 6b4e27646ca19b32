"""A search for a role: candidates, and what to do next."""

from netcheck.report._find import find_json, find_text
from netcheck.report._find_words import PROBLEM_REMEDIES, problem_text

__all__ = ["PROBLEM_REMEDIES", "find_json", "find_text", "problem_text"]
