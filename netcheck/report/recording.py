"""A guided recording. A door of its own: what was recorded before needs no interface of python-can."""

from netcheck.report._record import RecordCase, record_json, record_text
from netcheck.report._record_live import (
    START_KEYS,
    LiveState,
    confirmed_text,
    doubtful_pair_text,
    introduction,
    live_lines,
    nothing_to_do_text,
    outcome_text,
    prompt_text,
    question_text,
    quiet_text,
    stillness_text,
    unanswered_text,
    waiting_line,
)
from netcheck.report._record_words import (
    PairSeen,
    RecordStop,
    StopKind,
    listening_text,
    origin_text,
    stop_text,
)

__all__ = [
    "START_KEYS",
    "LiveState",
    "PairSeen",
    "RecordCase",
    "RecordStop",
    "StopKind",
    "confirmed_text",
    "doubtful_pair_text",
    "introduction",
    "listening_text",
    "live_lines",
    "nothing_to_do_text",
    "origin_text",
    "outcome_text",
    "prompt_text",
    "question_text",
    "quiet_text",
    "record_json",
    "record_text",
    "stillness_text",
    "stop_text",
    "unanswered_text",
    "waiting_line",
]
