"""What is left to do, and in which order: captures to take, blocks to read, checklist, next steps."""

from netcheck.work._checklist import checklist
from netcheck.work._desk import desk_work
from netcheck.work._exercises import together
from netcheck.work._next import minutes, next_steps
from netcheck.work._sessions import RecordingSession, recording_sessions, with_recording
from netcheck.work._todo import RECAPTURE, captures_to_take, coding_order, in_write

__all__ = [
    "RECAPTURE",
    "RecordingSession",
    "captures_to_take",
    "checklist",
    "coding_order",
    "desk_work",
    "in_write",
    "minutes",
    "next_steps",
    "recording_sessions",
    "together",
    "with_recording",
]
