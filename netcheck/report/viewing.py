"""The words that a page to look at shares with the text reports, beside their JSON."""

from netcheck.report._handover import Handover, HandoverPart, handover
from netcheck.report._map_words import (
    APART,
    GIVING,
    MAP_KEYS,
    UNTAPPED,
    givers_text,
    map_text,
    module_fate,
    module_title,
    more_text,
    network_title,
    part_lines,
    takers_text,
)
from netcheck.report._plan_coding import block_rows, block_waits, row_change, row_place
from netcheck.report._plan_json import plan_json
from netcheck.report._plan_resources import balance_state
from netcheck.report._plan_verdict import headline, identity_line, summary
from netcheck.report._plan_verdict import reasons as plan_reasons
from netcheck.report._plan_words import STATUS_SIGNS, VERDICT_SIGNS, VERDICT_WORDS
from netcheck.report._prove_json import prove_json
from netcheck.report._prove_text import counts_of, in_one_line, prove_headline, prove_next, vehicle_text
from netcheck.report._prove_text import reasons as prove_reasons
from netcheck.report._ramp_words import STAGE_TITLES
from netcheck.report._reasons import STATUS_WORDS
from netcheck.report._sheet import due_steps, held_text
from netcheck.report._step_parts import StepPart, step_parts
from netcheck.report._wrap import wrap as broken

__all__ = [
    "APART",
    "GIVING",
    "MAP_KEYS",
    "STAGE_TITLES",
    "STATUS_SIGNS",
    "STATUS_WORDS",
    "UNTAPPED",
    "VERDICT_SIGNS",
    "VERDICT_WORDS",
    "Handover",
    "HandoverPart",
    "StepPart",
    "balance_state",
    "block_rows",
    "block_waits",
    "broken",
    "counts_of",
    "due_steps",
    "givers_text",
    "handover",
    "headline",
    "held_text",
    "identity_line",
    "in_one_line",
    "map_text",
    "module_fate",
    "module_title",
    "more_text",
    "network_title",
    "part_lines",
    "plan_json",
    "plan_reasons",
    "prove_headline",
    "prove_json",
    "prove_next",
    "prove_reasons",
    "row_change",
    "row_place",
    "step_parts",
    "summary",
    "takers_text",
    "vehicle_text",
]
