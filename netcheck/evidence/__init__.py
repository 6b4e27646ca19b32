"""How well a signal is shown: observations of captures."""

from netcheck.evidence._gaps import Gaps
from netcheck.evidence._guide import Guide, Outcome, Phase, Result
from netcheck.evidence._notes import Act, Made, Unasked
from netcheck.evidence._observation import Counted, Extremes, MarkSeen, Observation
from netcheck.evidence._observe import CaptureSeen, ChannelSeen, observe
from netcheck.evidence._stretches import Reading, StateMeter, Stretch
from netcheck.evidence._watch import Watch, Window, raw_values, window

__all__ = [
    "Act",
    "CaptureSeen",
    "ChannelSeen",
    "Counted",
    "Extremes",
    "Gaps",
    "Guide",
    "Made",
    "MarkSeen",
    "Observation",
    "Outcome",
    "Phase",
    "Reading",
    "Result",
    "StateMeter",
    "Stretch",
    "Unasked",
    "Watch",
    "Window",
    "observe",
    "raw_values",
    "window",
]
