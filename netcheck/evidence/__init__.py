"""How well a signal is shown: observations of captures."""

from typing import TYPE_CHECKING

from netcheck.doors import door
from netcheck.network import Gaps

if TYPE_CHECKING:
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
else:
    __getattr__ = door(
        __name__,
        {
            "_beside": "BesideLook BesideMeter BitsBeside FollowingByte MovedByte look_beside",
            "_guide": "Guide",
            "_guide_model": "ExerciseStep GuidePhase Outcome Result",
            "_observation": "LEAST_CHANGES CounterSeen Extremes MarkSeen Observation Outside",
            "_observe": "CaptureSeen ChannelSeen ObservationPass observe",
            "_proposals": "MarkOrigin ProposedMark UnpromptedActivity",
            "_silence": "SILENT_NS Silence SilenceWatch",
            "_state_periods": "SignalReading StateMeter StatePeriod",
            "_turns": "Turns TurnsWanted",
            "_window": "Window window",
        },
    )

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
