"""What modules say of themselves: a door of its own, as a plan needs no diagnostics."""

from netcheck.report._readout_case import ReadoutCase
from netcheck.report._readout_file import readouts_file
from netcheck.report._readout_json import readout_json
from netcheck.report._readout_text import readout_text

__all__ = ["ReadoutCase", "readout_json", "readout_text", "readouts_file"]
