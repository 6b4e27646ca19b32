"""Results to text for people and JSON for scripts. Pure: width and colour are passed in."""

from netcheck.report._coding import coding_text
from netcheck.report._coding_case import CodingCase
from netcheck.report._coding_json import coding_json
from netcheck.report._plan_json import plan_json
from netcheck.report._plan_text import plan_text

__all__ = ["CodingCase", "coding_json", "coding_text", "plan_json", "plan_text"]
