"""Results to text for people and JSON for scripts. Pure: width and colour are passed in."""

from netcheck.report._bench import (
    SimulationTold,
    replay_json,
    replay_text,
    simulation_json,
    simulation_text,
)
from netcheck.report._coding import coding_text
from netcheck.report._coding_case import CodingCase
from netcheck.report._coding_json import coding_json
from netcheck.report._decode import DecodeHead, SignalSummary, decode_text, summarise
from netcheck.report._decode_rows import csv_chunks, json_chunks, write_parquet
from netcheck.report._plan_json import plan_json
from netcheck.report._plan_text import plan_text, verdict_text
from netcheck.report._record import RecordCase, record_json, record_text
from netcheck.report._record_live import (
    LiveState,
    introduction,
    live_lines,
    outcome_text,
    prompt_text,
    question_text,
    quiet_text,
)
from netcheck.report._survey_json import survey_json
from netcheck.report._survey_text import survey_text
from netcheck.report._tap import tap_json, tap_text
from netcheck.report._trim import trim_json, trim_text

__all__ = [
    "CodingCase",
    "DecodeHead",
    "LiveState",
    "RecordCase",
    "SignalSummary",
    "SimulationTold",
    "coding_json",
    "coding_text",
    "csv_chunks",
    "decode_text",
    "introduction",
    "json_chunks",
    "live_lines",
    "outcome_text",
    "plan_json",
    "plan_text",
    "prompt_text",
    "question_text",
    "quiet_text",
    "record_json",
    "record_text",
    "replay_json",
    "replay_text",
    "simulation_json",
    "simulation_text",
    "summarise",
    "survey_json",
    "survey_text",
    "tap_json",
    "tap_text",
    "trim_json",
    "trim_text",
    "verdict_text",
    "write_parquet",
]
