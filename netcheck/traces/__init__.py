"""Captures of a job to look at: its signals, their gaps and each channel's load over time, thinned."""

from netcheck.traces._heat import CaptureHeat, HeatBook, MessageHeat, read_heat
from netcheck.traces._model import (
    ChannelTrace,
    LoadTrace,
    SampledFrame,
    SignalTrace,
    TraceGap,
    TraceMark,
)
from netcheck.traces._read import read_traces
from netcheck.traces._thin import Thinner

__all__ = [
    "CaptureHeat",
    "ChannelTrace",
    "HeatBook",
    "LoadTrace",
    "MessageHeat",
    "SampledFrame",
    "SignalTrace",
    "Thinner",
    "TraceGap",
    "TraceMark",
    "read_heat",
    "read_traces",
]
