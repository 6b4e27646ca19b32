"""How well a signal is shown: observations of captures."""

from netcheck.evidence._beside import (
    BesideLook,
    BesideMeter,
    BitsBeside,
    FollowingByte,
    MovedByte,
    look_beside,
)
from netcheck.evidence._guide import Guide
from netcheck.evidence._guide_model import ExerciseStep, GuidePhase, Outcome, Result
from netcheck.evidence._observation import (
    LEAST_CHANGES,
    CounterSeen,
    Extremes,
    MarkSeen,
    Observation,
    Outside,
)
from netcheck.evidence._observe import CaptureSeen, ChannelSeen, ObservationPass, observe
from netcheck.evidence._proposals import MarkOrigin, ProposedMark, UnpromptedActivity
from netcheck.evidence._silence import SILENT_NS, Silence, SilenceWatch
from netcheck.evidence._state_periods import SignalReading, StateMeter, StatePeriod
from netcheck.evidence._turns import Turns, TurnsWanted
from netcheck.evidence._window import Window, window
from netcheck.network import Gaps

__all__ = [
    "LEAST_CHANGES",
    "SILENT_NS",
    "BesideLook",
    "BesideMeter",
    "BitsBeside",
    "CaptureSeen",
    "ChannelSeen",
    "CounterSeen",
    "ExerciseStep",
    "Extremes",
    "FollowingByte",
    "Gaps",
    "Guide",
    "GuidePhase",
    "MarkOrigin",
    "MarkSeen",
    "MovedByte",
    "Observation",
    "ObservationPass",
    "Outcome",
    "Outside",
    "ProposedMark",
    "Result",
    "SignalReading",
    "Silence",
    "SilenceWatch",
    "StateMeter",
    "StatePeriod",
    "Turns",
    "TurnsWanted",
    "UnpromptedActivity",
    "Window",
    "look_beside",
    "observe",
    "window",
]
