"""What is said of an edit."""

from __future__ import annotations

from netcheck.edit import Edit
from netcheck.report._trim_words import remark_text


def told(edit: Edit) -> list[str]:
    """What a person should know, in words."""
    return [remark_text(remark) for remark in edit.remarks]
