"""Captures cut, joined, hidden and written."""

from netcheck.edit._anonymise import VinFinds, find_vins
from netcheck.edit._choose import IdSpan, id_span, of_channels, of_ids
from netcheck.edit._edit import Cut, Edit, Edited, Track, Written, by_channel
from netcheck.edit._remarks import EditRemark, EditRemarkKind, FrameKind
from netcheck.edit._side_marks import marks_text
from netcheck.edit._write import CaptureWriter, capture_lines, form_of, messages, only

__all__ = [
    "CaptureWriter",
    "Cut",
    "Edit",
    "EditRemark",
    "EditRemarkKind",
    "Edited",
    "FrameKind",
    "IdSpan",
    "Track",
    "VinFinds",
    "Written",
    "by_channel",
    "capture_lines",
    "find_vins",
    "form_of",
    "id_span",
    "marks_text",
    "messages",
    "of_channels",
    "of_ids",
    "only",
]
