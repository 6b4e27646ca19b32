"""The two standard streams while a command runs, whatever they lead to.

A result that cannot be written is an InputError, so that the exit status of a verdict is never that of a
failure. A message that cannot be written is lost, and ends nothing.
"""

from __future__ import annotations

import errno
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Any

from netcheck.errors import InputError


class _ResultStream:
    """Standard output or the bytes below it: what the system says on writing is told as ours."""

    def __init__(self, stream: Any) -> None:
        self._stream = stream

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)

    @property
    def buffer(self) -> _ResultStream:
        return _ResultStream(self._stream.buffer)

    def write(self, data: Any, /) -> int:
        with _told():
            return int(self._stream.write(data))

    def flush(self) -> None:
        with _told():
            self._stream.flush()


@contextmanager
def _told() -> Iterator[None]:
    try:
        yield
    except BrokenPipeError:
        raise
    except OSError as error:
        what = "is closed" if error.errno == errno.EBADF else f"cannot be written: {error.strerror or error}"
        raise InputError("standard output", what) from error


class _MessageStream:
    """Standard error as it is, until it refuses; from then on nobody is there to be told."""

    def __init__(self, stream: Any) -> None:
        self._stream = stream
        self._is_lost = False

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)

    def write(self, text: str, /) -> int:
        if not self._is_lost:
            try:
                self._stream.write(text)
            except OSError:
                self._is_lost = True
        return len(text)

    def flush(self) -> None:
        if not self._is_lost:
            try:
                self._stream.flush()
            except OSError:
                self._is_lost = True


@contextmanager
def standard_streams() -> Iterator[None]:
    """Both streams as above while the block runs; afterwards they are settled.

    A stream that was closed when the process began is refused (standard output) or swallows what comes
    (standard error). Its number is taken, so that no file of ours gets it.
    """
    _take_numbers()
    before = sys.stdout, sys.stderr
    sys.stdout = _ResultStream(sys.stdout or _open_null(os.O_RDONLY))
    sys.stderr = _MessageStream(sys.stderr or _open_null(os.O_WRONLY))
    try:
        yield
    finally:
        sys.stdout, sys.stderr = before
        for stream in before:
            _settle(stream)


def _take_numbers() -> None:
    for number, mode in ((0, os.O_RDONLY), (1, os.O_RDONLY), (2, os.O_WRONLY)):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, mode)  # gets the lowest number that is free: this one


def _open_null(mode: int) -> Any:
    """The null device as a text stream; one that is opened for reading refuses to be written."""
    return os.fdopen(os.open(os.devnull, mode), "w", encoding="utf-8")


def _settle(stream: Any) -> None:
    """Keep the interpreter from complaining at its end about what nobody takes any more."""
    if stream is None:
        return
    try:
        stream.flush()
    except OSError:
        with suppress(OSError, ValueError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
