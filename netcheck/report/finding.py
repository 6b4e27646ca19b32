"""A search for a role: candidates, and what to do next."""

from netcheck.report._find import find_json, find_text
from netcheck.report._find_quantity import quantity_json, quantity_text
from netcheck.report._find_quantity_words import QUANTITY_PROBLEM_REMEDIES, QUANTITY_PROBLEM_WORDS
from netcheck.report._find_words import PROBLEM_REMEDIES, problem_text

__all__ = [
    "PROBLEM_REMEDIES",
    "QUANTITY_PROBLEM_REMEDIES",
    "QUANTITY_PROBLEM_WORDS",
    "find_json",
    "find_text",
    "problem_text",
    "quantity_json",
    "quantity_text",
]
