"""Results to text for people and JSON for scripts. Pure: width and colour are passed in.

Here are plan, coding and decode. ``report.onsite`` and ``report.recording`` have what is said beside the
vehicle, ``report.bench`` what is said of traffic that is simulated, played or cut: doors of their own, so
that a plan imports no room it does not use.
"""

from typing import TYPE_CHECKING

from netcheck.doors import door

if TYPE_CHECKING:
    from netcheck.report._action_words import next_texts, step_text
    from netcheck.report._coding import coding_text
    from netcheck.report._coding_case import CodingCase
    from netcheck.report._coding_json import coding_json
    from netcheck.report._database_words import database_warnings, repair_text
    from netcheck.report._decode import DecodeHead, SignalSummary, decode_text, summarise
    from netcheck.report._decode_rows import csv_chunks, json_chunks, write_parquet
    from netcheck.report._finding_words import finding_next, finding_text
    from netcheck.report._note_words import note_text
    from netcheck.report._plan_json import plan_json
    from netcheck.report._plan_text import plan_text, verdict_text
    from netcheck.report._reason_parts import Advice
    from netcheck.report._reasons import advice, also_lines, need_text, seen_text
    from netcheck.report._sheet import sheet_text
    from netcheck.report._warning_words import warning_text
    from netcheck.report._withdraw import withdraw_json, withdraw_text
    from netcheck.report._years import years_json, years_text
else:
    __getattr__ = door(
        __name__,
        {
            "_action_words": "next_texts step_text",
            "_coding": "coding_text",
            "_coding_case": "CodingCase",
            "_coding_json": "coding_json",
            "_database_words": "database_warnings repair_text",
            "_decode": "DecodeHead SignalSummary decode_text summarise",
            "_decode_rows": "csv_chunks json_chunks write_parquet",
            "_finding_words": "finding_next finding_text",
            "_note_words": "note_text",
            "_plan_json": "plan_json",
            "_plan_text": "plan_text verdict_text",
            "_reason_parts": "Advice",
            "_reasons": "advice also_lines need_text seen_text",
            "_sheet": "sheet_text",
            "_withdraw": "withdraw_json withdraw_text",
            "_years": "years_json years_text",
            "_warning_words": "warning_text",
        },
    )

__all__ = [
    "Advice",
    "CodingCase",
    "DecodeHead",
    "SignalSummary",
    "advice",
    "also_lines",
    "coding_json",
    "coding_text",
    "csv_chunks",
    "database_warnings",
    "decode_text",
    "finding_next",
    "finding_text",
    "json_chunks",
    "need_text",
    "next_texts",
    "note_text",
    "plan_json",
    "plan_text",
    "repair_text",
    "seen_text",
    "sheet_text",
    "step_text",
    "summarise",
    "verdict_text",
    "warning_text",
    "withdraw_json",
    "withdraw_text",
    "write_parquet",
    "years_json",
    "years_text",
]
