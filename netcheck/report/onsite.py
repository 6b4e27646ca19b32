"""Beside the vehicle: what a pair of wires carries, and whether it is the right one."""

from netcheck.report._survey_json import survey_json
from netcheck.report._survey_text import survey_text
from netcheck.report._tap import tap_json, tap_text

__all__ = ["survey_json", "survey_text", "tap_json", "tap_text"]
