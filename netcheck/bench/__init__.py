"""A vehicle on the bench: captures edited and written."""

from netcheck.bench._write import CaptureWriter, capture_lines, form_of

__all__ = [
    "CaptureWriter",
    "capture_lines",
    "form_of",
]
