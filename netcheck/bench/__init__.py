"""A vehicle on the bench: simulated traffic, and captures played onto a bus."""

from netcheck.bench._checksum import Checksum, ChecksumKind
from netcheck.bench._choose import IdSpan, id_span
from netcheck.bench._edit import Cut, Edit, Edited, Track, Written, by_channel
from netcheck.bench._encode import encode, nearest_raw, physical, raw_range
from netcheck.bench._frame import START_US, Frame, Rates, candump_lines, merge
from netcheck.bench._play import INTERRUPTED, BusStopped, Clock, Lateness, Played, play
from netcheck.bench._replay import Choice, Replay, Route, look_through
from netcheck.bench._send import Sending, bench_ids, bench_messages, send
from netcheck.bench._settings import seen_from
from netcheck.bench._setup import Bench, BenchNetwork, load_bench, set_up
from netcheck.bench._side_marks import marks_text
from netcheck.bench._simulate import simulate
from netcheck.bench._story import ALWAYS, Cycle, Key, Point, Span, Story, Trouble
from netcheck.bench._target import Target, WireId, id_list
from netcheck.bench._write import CaptureWriter, capture_lines, form_of

__all__ = [
    "ALWAYS",
    "INTERRUPTED",
    "START_US",
    "Bench",
    "BenchNetwork",
    "BusStopped",
    "CaptureWriter",
    "Checksum",
    "ChecksumKind",
    "Choice",
    "Clock",
    "Cut",
    "Cycle",
    "Edit",
    "Edited",
    "Frame",
    "IdSpan",
    "Key",
    "Lateness",
    "Played",
    "Point",
    "Rates",
    "Replay",
    "Route",
    "Sending",
    "Span",
    "Story",
    "Target",
    "Track",
    "Trouble",
    "WireId",
    "Written",
    "bench_ids",
    "bench_messages",
    "by_channel",
    "candump_lines",
    "capture_lines",
    "encode",
    "form_of",
    "id_list",
    "id_span",
    "load_bench",
    "look_through",
    "marks_text",
    "merge",
    "nearest_raw",
    "physical",
    "play",
    "raw_range",
    "seen_from",
    "send",
    "set_up",
    "simulate",
]
