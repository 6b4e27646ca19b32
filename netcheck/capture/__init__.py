"""Recorded frames."""

from netcheck.capture._capture import (
    BRS,
    ERROR,
    ESI,
    EXTENDED,
    FD,
    NON_DATA,
    REMOTE,
    Capture,
    CapturedFrame,
    Columns,
)
from netcheck.capture._directions import has_directions
from netcheck.capture._reader import CaptureStream, cores, open_capture, read_capture

__all__ = [
    "BRS",
    "ERROR",
    "ESI",
    "EXTENDED",
    "FD",
    "NON_DATA",
    "REMOTE",
    "Capture",
    "CaptureStream",
    "CapturedFrame",
    "Columns",
    "cores",
    "has_directions",
    "open_capture",
    "read_capture",
]
