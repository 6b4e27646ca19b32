"""A recording that looks for roles. A door of its own: searches in files need no interface of python-can."""

from netcheck.report._record_find import (
    FindCase,
    asking_text,
    find_introduction,
    find_live_lines,
    is_heard,
    record_find_json,
    record_find_text,
)

__all__ = [
    "FindCase",
    "asking_text",
    "find_introduction",
    "find_live_lines",
    "is_heard",
    "record_find_json",
    "record_find_text",
]
