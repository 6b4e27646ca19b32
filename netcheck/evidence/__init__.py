"""How well a signal is shown: observations of captures."""

from netcheck.evidence._gaps import Gaps
from netcheck.evidence._observation import Counted, Extremes, MarkSeen, Observation
from netcheck.evidence._observe import CaptureSeen, ChannelSeen, observe
from netcheck.evidence._watch import Watch, Window, raw_values, window

__all__ = [
    "CaptureSeen",
    "ChannelSeen",
    "Counted",
    "Extremes",
    "Gaps",
    "MarkSeen",
    "Observation",
    "Watch",
    "Window",
    "observe",
    "raw_values",
    "window",
]
