"""After the fitting: the comparison with before, as text and JSON."""

from netcheck.report._promise_words import latency_text, promise_text
from netcheck.report._prove_json import prove_json
from netcheck.report._prove_text import prove_text
from netcheck.report._prove_words import change_next, change_text, prove_note_text

__all__ = [
    "change_next",
    "change_text",
    "latency_text",
    "promise_text",
    "prove_json",
    "prove_note_text",
    "prove_text",
]
