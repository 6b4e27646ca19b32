"""What netcheck gives to pytest: fixtures for captures and plans, and job files as tests.

Loaded by every run of pytest where netcheck is installed, so it imports nothing until something is used.
Leave it out with ``-p no:netcheck``.

- ``netcheck_capture("drive.log")``: the capture, as ``netcheck.read_capture`` gives it
- ``netcheck_series("drive.log", "van.dbc")``: its signals, as ``netcheck.decode`` gives them
- ``netcheck_plan("van.job.toml")``: the plan of a job
- ``replayed_bus("drive.log", speed=0)``: a virtual bus on which the capture plays; gone after the test

- ``assert_shown``, ``assert_signal``, ``assert_period``: those of ``netcheck.testing``, without an import

Paths count from the folder of the file that calls: a test file, or a ``conftest.py``. Fixtures have session
scope, but for ``replayed_bus``, so that fixtures of any scope may use them; their types are in
``netcheck.testing``. A capture is read once a session, as long as its content stays the same.

``*.job.toml`` files that state ``expect`` are collected as tests; others only when they are named on the
command line. One with a key that job files do not have, such as a misspelt ``expect``, is collected and
fails.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Iterator, Mapping
from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeVar

import pytest

if TYPE_CHECKING:
    from netcheck.capture import Capture
    from netcheck.database import Series
    from netcheck.testing import (
        AssertPeriod,
        AssertShown,
        AssertSignal,
        CaptureCache,
        JobPlan,
        PlanJob,
        ReadCapture,
        ReadSeries,
        ReplayCapture,
        ReplayedBus,
    )

T = TypeVar("T")
_JOB: Final = ".job.toml"
_EXPECTS: Final = re.compile(rb"""^\s*["']?expect["']?\s*=""", re.MULTILINE)
_KIND: Final = re.compile(rb"""^\s*["']?kind["']?\s*=\s*["']job["']""", re.MULTILINE)
_TABLE: Final = re.compile(rb"^\s*\[", re.MULTILINE)
_USUAL_KEYS: Final = {"kind", "format", "vehicle", "model_year"}  # of a job file, before its tables
_KEY: Final = re.compile(rb"""^\s*["']?([\w-]+)["']?\s*[=.]""", re.MULTILINE)


@pytest.fixture(scope="session")
def _netcheck_captures() -> CaptureCache:
    """Captures that were read in this session."""
    from netcheck.testing import CaptureCache

    return CaptureCache()


@pytest.fixture(scope="session")
def netcheck_capture(_netcheck_captures: CaptureCache) -> ReadCapture:
    """Reads a capture, named as from the folder of the file that calls; each content once a session."""

    def read(file: str | PathLike[str]) -> Capture:
        __tracebackhide__ = True
        caller = _caller()
        return _briefly(lambda: _netcheck_captures.read(_beside(caller, file)))

    return read


@pytest.fixture(scope="session")
def netcheck_series(_netcheck_captures: CaptureCache) -> ReadSeries:
    """Decodes a capture with one or more DBC files, named as from the folder of the file that calls."""

    def read(
        file: str | PathLike[str], *dbc: str | PathLike[str], channel: str | None = None
    ) -> Mapping[tuple[str, str], Series]:
        __tracebackhide__ = True
        from netcheck.database import decode, load_database

        caller = _caller()

        def series() -> Mapping[tuple[str, str], Series]:
            database = load_database(*(_beside(caller, name) for name in dbc))
            return decode(_netcheck_captures.read(_beside(caller, file)), database, channel=channel)

        return _briefly(series)

    return read


@pytest.fixture(scope="session")
def netcheck_plan() -> PlanJob:
    """Plans a job, named as from the folder of the file that calls."""

    def plan(file: str | PathLike[str]) -> JobPlan:
        __tracebackhide__ = True
        from netcheck.testing import plan_of

        caller = _caller()
        return _briefly(lambda: plan_of(_beside(caller, file)))

    return plan


@pytest.fixture
def replayed_bus() -> Iterator[ReplayCapture]:
    """Opens a virtual bus on which a capture plays; all of them are closed after the test.

    speed: 1 is the capture's own time, 2 twice as fast, 0 as fast as the frames are read
    channel: which channel of the capture; needed where it has several
    """
    opened: list[ReplayedBus] = []

    def play(file: str | PathLike[str], *, speed: float = 1.0, channel: str | None = None) -> ReplayedBus:
        __tracebackhide__ = True
        from netcheck.testing import ReplayedBus

        caller = _caller()
        bus = _briefly(lambda: ReplayedBus(_beside(caller, file), speed=speed, channel=channel))
        opened.append(bus)
        return bus

    yield play
    for bus in opened:
        bus.shutdown()


@pytest.fixture(scope="session")
def assert_shown() -> AssertShown:
    """Every need of a role is shown: see ``netcheck.testing``."""
    from netcheck.testing import assert_shown

    return assert_shown


@pytest.fixture(scope="session")
def assert_signal() -> AssertSignal:
    """A signal has a value at a time: see ``netcheck.testing``."""
    from netcheck.testing import assert_signal

    return assert_signal


@pytest.fixture(scope="session")
def assert_period() -> AssertPeriod:
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


def _caller() -> Path:
    """The file in which the fixture is called: a test file, or a ``conftest.py``."""
    return Path(sys._getframe(2).f_code.co_filename).absolute()


def _beside(caller: Path, file: str | PathLike[str]) -> Path:
    """A file by its name as from the caller's folder. Raises InputError where it is not there."""
    from netcheck.errors import InputError

    path = caller.parent / file
    if not path.exists():
        raise InputError(
            file,
            f"there is no such file in {caller.parent}",
            remedy=f"paths count from the folder of {caller.name}",
        )
    return path


def pytest_collect_file(file_path: Path, parent: pytest.Collector) -> JobFile | None:
    """Job files that are tests."""
    if not file_path.name.endswith(_JOB):
        return None
    if not parent.session.isinitpath(file_path) and not _expects(file_path):
        return None
    return JobFile.from_parent(parent, path=file_path)


def _expects(path: Path) -> bool:
    """Whether a job file states a verdict, even if there is something wrong elsewhere in it.

    A key before the first table that no job file has may be meant for it: then the test will say so.
    """
    try:
        text = path.read_bytes()
    except OSError:
        return True  # the test will say what is wrong
    if _EXPECTS.search(text) is not None:
        return True
    head = text[: found.start()] if (found := _TABLE.search(text)) else text
    if _KIND.search(head) is None:
        return False
    keys = {key.decode("ascii", "replace") for key in _KEY.findall(head)}
    if keys <= _USUAL_KEYS:
        return False
    from netcheck.files import Job

    return not keys <= Job.model_fields.keys()


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
