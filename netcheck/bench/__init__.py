"""A vehicle on the bench: simulated traffic, and captures played onto a bus."""

from netcheck.bench._checksum import Checksum, ChecksumKind
from netcheck.bench._choose import IdSpan, id_span
from netcheck.bench._edit import Cut, Edit, Edited, Track, Written, by_channel
from netcheck.bench._encode import encode, nearest_raw, physical, raw_range
from netcheck.bench._frame import Frame, Rates, START_US, candump_lines, merge
from netcheck.bench._side_marks import marks_text
from netcheck.bench._simulate import simulate
from netcheck.bench._story import ALWAYS, Cycle, Key, Point, Span, Story, Trouble
from netcheck.bench._write import CaptureWriter, capture_lines, form_of

__all__ = [
    "ALWAYS",
    "START_US",
    "CaptureWriter",
    "Checksum",
    "ChecksumKind",
    "Cut",
    "Cycle",
    "Edit",
    "Edited",
    "Frame",
    "IdSpan",
    "Key",
    "Point",
    "Rates",
    "Span",
    "Story",
    "Track",
    "Trouble",
    "Written",
    "by_channel",
    "candump_lines",
    "capture_lines",
    "encode",
    "form_of",
    "id_span",
    "marks_text",
    "merge",
    "nearest_raw",
    "physical",
    "raw_range",
    "simulate",
]
