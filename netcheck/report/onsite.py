"""Beside the vehicle: what a pair of wires carries, whether it is the right one, and a guided recording."""

from netcheck.report._record import RecordCase, record_json, record_text
from netcheck.report._record_live import (
    LiveState,
    introduction,
    live_lines,
    outcome_text,
    prompt_text,
    question_text,
    quiet_text,
    stillness_text,
)
from netcheck.report._survey_json import survey_json
from netcheck.report._survey_text import survey_text
from netcheck.report._tap import tap_json, tap_text

__all__ = [
    "LiveState",
    "RecordCase",
    "introduction",
    "live_lines",
    "outcome_text",
    "prompt_text",
    "question_text",
    "quiet_text",
    "record_json",
    "record_text",
    "stillness_text",
    "survey_json",
    "survey_text",
    "tap_json",
    "tap_text",
]
