"""A log that is recorded, with each call to the system failing in turn: whole lines stay, and it is told."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import pytest

from netcheck.capture._logfile import LogFile
from netcheck.errors import InputError

FIRST = b"(1.000000) can0 123#00\n(2.000000) can0 123#01\n"
SECOND = b"(3.000000) can0 123#02\n"
CALLS = ("open", "write", "ftruncate", "fsync", "close")


class Calls:
    """The calls of a log so far; the n-th fails, and a write that fails has taken some bytes before."""

    def __init__(self, failing: int, number: int) -> None:
        self.seen: list[str] = []
        self._failing = failing
        self._number = number

    def met(self, name: str) -> None:
        self.seen.append(name)
        if len(self.seen) == self._failing:
            raise OSError(self._number, os.strerror(self._number))

    @contextmanager
    def watched(self, folder: Path) -> Iterator[None]:
        """Every call about a file of the folder goes by here."""
        with pytest.MonkeyPatch.context() as patch:
            numbers: set[int] = set()
            real = {name: getattr(os, name) for name in CALLS}

            def opened(path, flags, mode=0o777, **more):
                is_ours = isinstance(path, str | Path) and folder in Path(path).parents
                if is_ours:
                    self.met("open")
                number = real["open"](path, flags, mode, **more)
                if is_ours:
                    numbers.add(number)
                return number

            def write(number, data):
                if number not in numbers:
                    return real["write"](number, data)
                self.met("write")
                return real["write"](number, data[:20])  # as much as the disk takes at a time

            def other(name):
                def call(number, *rest):
                    if number in numbers:
                        self.met(name)
                    return real[name](number, *rest)

                return call

            patch.setattr(os, "open", opened)
            patch.setattr(os, "write", write)
            for name in ("ftruncate", "fsync", "close"):
                patch.setattr(os, name, other(name))
            yield


def record(path: Path, *, replace: bool) -> bool:
    """A short recording; whether it was told that something is not there."""
    log = None
    try:
        log = LogFile(path, replace=replace)
        log.write(FIRST)
        log.write(SECOND)
        log.sync()
    except InputError as error:
        return bool(error.remedy)
    finally:
        if log is not None:
            log.close()
            log.close()  # once is enough
    return False


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EIO])
@pytest.mark.parametrize("replace", [False, True])
def test_whatever_call_fails_whole_lines_stay(tmp_path: Path, number: int, replace: bool) -> None:
    failing = 0
    while True:
        folder = tmp_path / str(failing)
        folder.mkdir()
        path = folder / "new.log"
        if replace:
            path.write_bytes(b"old\n")
        calls = Calls(failing, number)
        with calls.watched(folder):
            is_told = record(path, replace=replace)
        names = calls.seen
        content = path.read_bytes() if path.exists() else b""
        failed = names[failing - 1] if 0 < failing <= len(names) else ""
        assert content == b"old\n" or (FIRST + SECOND).startswith(content)
        assert content.endswith(b"\n") or not content
        assert is_told == (failed not in {"", "close"}), failed
        if not is_told:
            assert content == FIRST + SECOND
        assert [each.name for each in folder.iterdir()] in ([], ["new.log"])
        if failing > len(names):
            return
        failing += 1


def test_where_what_is_cut_cannot_be_taken_back_either_it_is_still_told(tmp_path: Path, monkeypatch) -> None:
    """The reader counts the line that is cut."""
    log = LogFile(tmp_path / "new.log")
    log.write(FIRST)

    def full(*_):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "ftruncate", full)
    monkeypatch.setattr(os, "write", full)
    with pytest.raises(InputError, match="the disk is full"):
        log.write(SECOND)
    with suppress(InputError):
        log.close()
    assert (tmp_path / "new.log").read_bytes() == FIRST
