"""A vehicle on the bench: simulated traffic, and captures played onto a bus."""

from netcheck.bench._checksum import Checksum, ChecksumKind
from netcheck.bench._encode import encode, nearest_raw, physical, raw_range
from netcheck.bench._frame import START_US, Frame, Rates, candump_lines, merge
from netcheck.bench._simulate import simulate
from netcheck.bench._story import ALWAYS, Cycle, Key, Point, Span, Story, Trouble
from netcheck.bench._write import CaptureWriter, capture_lines, form_of

__all__ = [
    "ALWAYS",
    "START_US",
    "CaptureWriter",
    "Checksum",
    "ChecksumKind",
    "Cycle",
    "Frame",
    "Key",
    "Point",
    "Rates",
    "Span",
    "Story",
    "Trouble",
    "candump_lines",
    "capture_lines",
    "encode",
    "form_of",
    "merge",
    "nearest_raw",
    "physical",
    "raw_range",
    "simulate",
]
