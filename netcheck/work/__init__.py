"""What is left to do, and in which order: captures to take, blocks to read, checklist, next steps."""

from netcheck.work._checklist import checklist
from netcheck.work._desk import desk_work
from netcheck.work._exercises import together
from netcheck.work._next import minutes, next_steps
from netcheck.work._todo import RECAPTURE, captures_to_take, coding_order, in_write
from netcheck.work._visit import Visit, visits, with_recording

__all__ = [
    "RECAPTURE",
    "Visit",
    "captures_to_take",
    "checklist",
    "coding_order",
    "desk_work",
    "in_write",
    "minutes",
    "next_steps",
    "together",
    "visits",
    "with_recording",
]
