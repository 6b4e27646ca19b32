"""How well a signal is shown: observations of captures."""

from netcheck.evidence._guide import Guide, Outcome, Phase, Result
from netcheck.evidence._notes import ExerciseStep, ProposedMark, UnpromptedActivity
from netcheck.evidence._observation import Counted, Extremes, MarkSeen, Observation
from netcheck.evidence._observe import CaptureSeen, ChannelSeen, observe
from netcheck.evidence._state_periods import SignalReading, StateMeter, StatePeriod
from netcheck.evidence._window import Window, window
from netcheck.network import Gaps

__all__ = [
    "CaptureSeen",
    "ChannelSeen",
    "Counted",
    "ExerciseStep",
    "Extremes",
    "Gaps",
    "Guide",
    "MarkSeen",
    "Observation",
    "Outcome",
    "Phase",
    "ProposedMark",
    "Result",
    "SignalReading",
    "StateMeter",
    "StatePeriod",
    "UnpromptedActivity",
    "Window",
    "observe",
    "window",
]
