"""For test suites: assertions that fail with a picture of what was seen."""

from netcheck.bench.replayed_bus import ReplayedBus
from netcheck.testing._captures import CaptureCache
from netcheck.testing._fixtures import (
    AssertPeriod,
    AssertShown,
    AssertSignal,
    PlanJob,
    ReadCapture,
    ReadSeries,
    ReplayCapture,
)
from netcheck.testing._periods import assert_period
from netcheck.testing._plans import JobPlan, assert_shown, job_fault, plan_of
from netcheck.testing._signals import assert_signal

__all__ = [
    "AssertPeriod",
    "AssertShown",
    "AssertSignal",
    "CaptureCache",
    "JobPlan",
    "PlanJob",
    "ReadCapture",
    "ReadSeries",
    "ReplayCapture",
    "ReplayedBus",
    "assert_period",
    "assert_shown",
    "assert_signal",
    "job_fault",
    "plan_of",
]
