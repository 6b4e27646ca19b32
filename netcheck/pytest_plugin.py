"""What netcheck gives to pytest: fixtures for captures and plans, and job files as tests.

Loaded by every run of pytest where netcheck is installed, so it imports nothing until something is used.
Leave it out with ``-p no:netcheck``.

- ``netcheck_capture("drive.log")``: the capture, as ``netcheck.read_capture`` gives it
- ``netcheck_series("drive.log", "van.dbc")``: its signals, as ``netcheck.decode`` gives them
- ``netcheck_plan("van.job.toml")``: the plan of a job
- ``replayed_bus("drive.log", speed=0)``: a virtual bus on which the capture plays; gone after the test

- ``assert_shown``, ``assert_signal``, ``assert_period``: those of ``netcheck.testing``, without an import

Paths count from the folder of the test file. ``*.job.toml`` files that state ``expect`` are collected as
tests; others only when they are named on the command line.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeVar

import pytest

if TYPE_CHECKING:
    from netcheck.capture import Capture
    from netcheck.database import Series
    from netcheck.testing import JobPlan, ReplayedBus

T = TypeVar("T")
_JOB: Final = ".job.toml"
_EXPECTS: Final = re.compile(rb"""^\s*["']?expect["']?\s*=""", re.MULTILINE)


@pytest.fixture
def netcheck_capture(request: pytest.FixtureRequest) -> Callable[[str], Capture]:
    """Reads a capture, named as from the folder of the test file."""

    def read(file: str) -> Capture:
        __tracebackhide__ = True
        from netcheck.capture import read_capture

        return _briefly(lambda: read_capture(_beside(request, file)))

    return read


@pytest.fixture
def netcheck_series(request: pytest.FixtureRequest) -> Callable[..., Mapping[tuple[str, str], Series]]:
    """Decodes a capture with one or more DBC files, named as from the folder of the test file."""

    def read(file: str, *dbc: str, channel: str | None = None) -> Mapping[tuple[str, str], Series]:
        __tracebackhide__ = True
        from netcheck.capture import read_capture
        from netcheck.database import decode, load_database

        def series() -> Mapping[tuple[str, str], Series]:
            database = load_database(*(_beside(request, name) for name in dbc))
            return decode(read_capture(_beside(request, file)), database, channel=channel)

        return _briefly(series)

    return read


@pytest.fixture
def netcheck_plan(request: pytest.FixtureRequest) -> Callable[[str], JobPlan]:
    """Plans a job, named as from the folder of the test file."""

    def plan(file: str) -> JobPlan:
        __tracebackhide__ = True
        from netcheck.testing import plan_of

        return _briefly(lambda: plan_of(_beside(request, file)))

    return plan


@pytest.fixture
def replayed_bus(request: pytest.FixtureRequest) -> Iterator[Callable[..., ReplayedBus]]:
    """Opens a virtual bus on which a capture plays; all of them are closed after the test.

    speed: 1 is the capture's own time, 2 twice as fast, 0 as fast as the frames are read
    channel: which channel of the capture; needed where it has several
    """
    opened: list[ReplayedBus] = []

    def play(file: str, *, speed: float = 1.0, channel: str | None = None) -> ReplayedBus:
        __tracebackhide__ = True
        from netcheck.testing import ReplayedBus

        bus = _briefly(lambda: ReplayedBus(_beside(request, file), speed=speed, channel=channel))
        opened.append(bus)
        return bus

    yield play
    for bus in opened:
        bus.shutdown()


@pytest.fixture
def assert_shown() -> Callable[..., None]:
    """Every need of a role is shown: see ``netcheck.testing``."""
    from netcheck.testing import assert_shown

    return assert_shown


@pytest.fixture
def assert_signal() -> Callable[..., None]:
    """A signal has a value at a time: see ``netcheck.testing``."""
    from netcheck.testing import assert_signal

    return assert_signal


@pytest.fixture
def assert_period() -> Callable[..., None]:
    """A message comes with a period: see ``netcheck.testing``."""
    from netcheck.testing import assert_period

    return assert_period


def _briefly(make: Callable[[], T]) -> T:
    """What it makes. A fault of a file is shown at the line of the test, without the way through netcheck."""
    __tracebackhide__ = True
    from netcheck.errors import NetcheckError

    try:
        return make()
    except NetcheckError as error:
        raise error.with_traceback(None) from None


def _beside(request: pytest.FixtureRequest, file: str) -> Path:
    return request.path.parent / file


def pytest_collect_file(file_path: Path, parent: pytest.Collector) -> JobFile | None:
    """Job files that are tests."""
    if not file_path.name.endswith(_JOB):
        return None
    if not parent.session.isinitpath(file_path) and not _expects(file_path):
        return None
    return JobFile.from_parent(parent, path=file_path)


def _expects(path: Path) -> bool:
    """Whether a job file states a verdict, even if there is something wrong elsewhere in it."""
    try:
        return _EXPECTS.search(path.read_bytes()) is not None
    except OSError:
        return True  # the test will say what is wrong


class JobFile(pytest.File):
    """A job file: one test."""

    def collect(self) -> Iterator[pytest.Item]:
        """The test."""
        yield JobVerdict.from_parent(self, name="verdict")


class JobVerdict(pytest.Item):
    """Passes when the job comes to the verdict that it expects."""

    def runtest(self) -> None:
        """Plan the job."""
        from netcheck.testing import job_fault

        fault = job_fault(self.path)
        if fault:
            raise WrongVerdictError(fault)

    def repr_failure(self, excinfo: pytest.ExceptionInfo[BaseException], style: Any = None) -> Any:
        """The plan's own words, no traceback."""
        if isinstance(excinfo.value, WrongVerdictError):
            return str(excinfo.value)
        return super().repr_failure(excinfo, style)

    def reportinfo(self) -> tuple[Path, int | None, str]:
        """Where it stands and what it is called."""
        return self.path, None, self.path.name


class WrongVerdictError(AssertionError):
    """A job that did not come to its verdict."""
