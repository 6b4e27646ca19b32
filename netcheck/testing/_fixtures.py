"""What the fixtures for pytest are, for the annotations of a test suite.

``def test_reverse(netcheck_capture: ReadCapture, assert_period: AssertPeriod) -> None: …``
"""

from __future__ import annotations

from collections.abc import Mapping
from os import PathLike
from typing import Protocol

from netcheck.bench.replayed_bus import ReplayedBus
from netcheck.capture import Capture
from netcheck.database import Database, Message, Series
from netcheck.plan import Plan
from netcheck.testing._plans import JobPlan

Name = str | PathLike[str]


class ReadCapture(Protocol):
    """``netcheck_capture``."""

    def __call__(self, file: Name) -> Capture:
        """Read a capture; again the same object for the same content."""


class ReadSeries(Protocol):
    """``netcheck_series``."""

    def __call__(
        self, file: Name, *dbc: Name, channel: str | None = None
    ) -> Mapping[tuple[str, str], Series]:
        """Decode a capture with one or more DBC files."""


class PlanJob(Protocol):
    """``netcheck_plan``."""

    def __call__(self, file: Name) -> JobPlan:
        """Plan a job."""


class ReplayCapture(Protocol):
    """``replayed_bus``."""

    def __call__(self, file: Name, *, speed: float = 1.0, channel: str | None = None) -> ReplayedBus:
        """Open a virtual bus on which a capture plays."""


class AssertShown(Protocol):
    """``assert_shown``."""

    def __call__(self, plan: Plan, role: str, *, item: str | None = None) -> None:
        """Every need of a role is shown."""


class AssertSignal(Protocol):
    """``assert_signal``."""

    def __call__(
        self,
        series: Series,
        *,
        at: float,
        is_: str | float | tuple[float, float],
        within: float = 1.0,
        tolerance: float = 0.0,
        channel: str | None = None,
    ) -> None:
        """A signal has a value at a time."""


class AssertPeriod(Protocol):
    """``assert_period``."""

    def __call__(
        self,
        capture: Capture,
        message: int | str | Message,
        *,
        ms: float,
        jitter: float | None = None,
        longest: float | None = None,
        database: Database | None = None,
        channel: str | None = None,
    ) -> None:
        """A message comes with a period."""
