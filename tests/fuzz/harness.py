"""Targets by name, one input after the other, and what a refusal has to look like."""

from __future__ import annotations

import faulthandler
import io
import random
import shutil
import signal
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path
from typing import Final, TypeVar

from netcheck.cli import main
from netcheck.errors import NetcheckError

Target = Callable[[random.Random, Path], None]
TARGETS: Final[dict[str, Target]] = {}
LONGEST_S: Final = 30  # for one input, before it counts as a hang
_LONGEST_LINE: Final = 4000  # characters of a refusal

Result = TypeVar("Result")


def target(name: str) -> Callable[[Target], Target]:
    """Makes a function a target of that name."""

    def keep(function: Target) -> Target:
        assert name not in TARGETS, name
        TARGETS[name] = function
        return function

    return keep


@dataclass(frozen=True)
class Failure(Exception):  # noqa: N818 - what a run ends with
    """An input that netcheck neither worked on nor refused in one line."""

    name: str
    seed: int

    def __str__(self) -> str:
        return f"target {self.name}, seed {self.seed}: python -m tests.fuzz {self.name} --seed {self.seed}"


def refused(work: Callable[[], Result]) -> Result | None:
    """What the work gives, or None where it refuses in one printable line; anything else is raised."""
    try:
        return work()
    except NetcheckError as error:
        text = str(error)
        assert text, "a refusal without a word"
        assert "\n" not in text, text
        assert len(text) <= _LONGEST_LINE, f"{len(text)} characters: {text[:200]}"
        text.encode("utf-8")
        return None


def command(*arguments: object) -> int:
    """The exit status of a command, which says one line if it is 2 and is no fault of netcheck's own."""
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        status = main([str(argument) for argument in arguments])
    said = err.getvalue()
    assert status in (0, 1, 2, 3), said
    assert status != 2 or (said.startswith("netcheck: ") and said.count("\n") == 1), said
    return status


def run_one(name: str, seed: int, *, is_timed: bool = False) -> None:
    """One input of a target. Raises Failure from what went wrong."""
    folder = Path(tempfile.mkdtemp(prefix=f"netcheck-fuzz-{name}-{seed}-"))
    try:
        with _no_longer_than(LONGEST_S if is_timed else 0):
            TARGETS[name](random.Random(f"{name} {seed}"), folder)
    except KeyboardInterrupt:
        raise
    except BaseException as error:  # pytest's own failures are no Exception
        raise Failure(name, seed) from error
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def run(name: str, *, seconds: float = 0.0, count: int = 0, first: int = 0) -> int:
    """Inputs of a target until the time or the count is over; how many."""
    end = time.monotonic() + seconds
    done = 0
    while (count and done < count) or (seconds and time.monotonic() < end):
        run_one(name, first + done, is_timed=bool(seconds))
        done += 1
    return done


@contextmanager
def _no_longer_than(seconds: int) -> Iterator[None]:
    """A hang becomes a TimeoutError, where the system has such a clock.

    Library code that never gives up the interpreter's lock cannot be stopped so: then the process ends and
    shows where it was. The folder of the input is left, and its name has the target and the seed.
    """
    if not seconds or not hasattr(signal, "setitimer"):
        yield
        return

    def ring(*_: object) -> None:
        raise TimeoutError(f"took longer than {seconds} s")

    before = signal.signal(signal.SIGALRM, ring)
    signal.setitimer(signal.ITIMER_REAL, seconds)
    faulthandler.dump_traceback_later(3 * seconds, exit=True)
    try:
        yield
    finally:
        faulthandler.cancel_dump_traceback_later()
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)
