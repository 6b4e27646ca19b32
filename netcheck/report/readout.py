"""What modules say of themselves: a door of its own, as a plan needs no diagnostics."""

from netcheck.report._readout_case import ReadoutCase
from netcheck.report._readout_file import readouts_file
from netcheck.report._readout_json import readout_json
from netcheck.report._readout_live_words import LIVE_CAUTIONS, OTHER_TESTER, asked_text
from netcheck.report._readout_text import readout_text

__all__ = [
    "LIVE_CAUTIONS",
    "OTHER_TESTER",
    "ReadoutCase",
    "asked_text",
    "readout_json",
    "readout_text",
    "readouts_file",
]
