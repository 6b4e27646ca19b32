"""Asking modules on a live bus. A door of its own: reading captures does not need it."""

from netcheck.diagnostics._asking import (
    MAY_LEAVE,
    AskedModule,
    FrameWire,
    LiveEnd,
    LiveReading,
    ReadingLine,
    WireFrame,
    capture_of,
    may_leave,
)

__all__ = [
    "MAY_LEAVE",
    "AskedModule",
    "FrameWire",
    "LiveEnd",
    "LiveReading",
    "ReadingLine",
    "WireFrame",
    "capture_of",
    "may_leave",
]
