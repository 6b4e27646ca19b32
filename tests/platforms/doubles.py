"""Doubles for what Windows and macOS do otherwise than Linux.

Sources: the Python library's pages on ``os``, ``signal``, ``msvcrt`` and ``fcntl`` ("Availability");
Microsoft's page on the C run-time function ``_locking``. From memory, as common knowledge: on Windows a file
in use can be neither replaced nor deleted.
"""

from __future__ import annotations

import errno
import os
import signal
import sys
from collections import deque
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from netcheck import cache
from netcheck.archive import _lock
from netcheck.capture import _disk


class Console(ModuleType):
    """``msvcrt``: keys that wait, and locks on bytes of files, which give up while another holds them."""

    LK_UNLCK, LK_LOCK = 0, 1

    def __init__(self, keys: str = "", held: int = 0) -> None:
        """held: how often a lock is refused, as after ten seconds of waiting"""
        super().__init__("msvcrt")
        self._keys = deque(keys)
        self._held = held
        self.calls: list[tuple[int, int]] = []

    def kbhit(self) -> bool:
        return bool(self._keys)

    def getwch(self) -> str:
        return self._keys.popleft()

    def locking(self, number: int, mode: int, size: int) -> None:
        assert os.lseek(number, 0, os.SEEK_CUR) == 0, "another byte than the one that was locked"
        assert size == 1
        if mode == self.LK_LOCK and self._held:
            self._held -= 1
            raise OSError(errno.EDEADLK, "Resource deadlock avoided")
        self.calls.append((number, mode))


def no_preadv(monkeypatch: pytest.MonkeyPatch) -> None:
    """Windows and macOS before 11: no reading by position into memory."""
    monkeypatch.setattr(_disk, "_HAS_PREADV", False)
    monkeypatch.delattr(os, "preadv", raising=False)


def no_owners(monkeypatch: pytest.MonkeyPatch) -> None:
    """Windows: files have no user number, and no links that a flag keeps from being followed."""
    monkeypatch.setattr(cache, "_HAS_OWNERS", False)
    monkeypatch.setattr(cache, "_NO_FOLLOW", 0)
    monkeypatch.delattr(os, "geteuid", raising=False)
    monkeypatch.delattr(os, "getuid", raising=False)


def no_affinity(monkeypatch: pytest.MonkeyPatch) -> None:
    """Windows and macOS: a process cannot ask which processors it may use."""
    monkeypatch.delattr(os, "sched_getaffinity", raising=False)


def no_hangup(monkeypatch: pytest.MonkeyPatch) -> None:
    """Windows: a terminal that closes sends no signal."""
    monkeypatch.delattr(signal, "SIGHUP", raising=False)


def no_folder_descriptors(monkeypatch: pytest.MonkeyPatch) -> None:
    """Windows: a folder cannot be opened, and so not be synced."""
    monkeypatch.delattr(os, "O_DIRECTORY", raising=False)


def no_links(monkeypatch: pytest.MonkeyPatch) -> None:
    """FAT and exFAT, as on most sticks: a file has one name."""

    def refuse(*_: Any, **__: Any) -> None:
        raise OSError(errno.EPERM, os.strerror(errno.EPERM))

    monkeypatch.setattr(os, "link", refuse)


def locks_of_windows(monkeypatch: pytest.MonkeyPatch) -> Console:
    """Windows: ``msvcrt`` instead of ``fcntl``."""
    console = Console(held=2)
    monkeypatch.setattr(_lock, "fcntl", None)
    monkeypatch.setitem(sys.modules, "msvcrt", console)
    return console


def files_in_use_stay(monkeypatch: pytest.MonkeyPatch) -> None:
    """Windows: a file that somebody has open is neither replaced nor renamed nor deleted."""

    def guarded(name: str) -> None:
        usual = getattr(Path, name)

        def guard(self: Path, *words: Any, **named: Any) -> Any:
            for path in (self, *(word for word in words if isinstance(word, Path))):
                if path.exists() and str(path.resolve()) in in_use():
                    raise PermissionError(errno.EACCES, "The process cannot access the file", str(path))
            return usual(self, *words, **named)

        monkeypatch.setattr(Path, name, guard)

    for name in ("replace", "rename", "unlink"):
        guarded(name)


def in_use() -> set[str]:
    """Files that this process has open."""
    found = set()
    for number in Path("/proc/self/fd").iterdir():
        try:
            found.add(str(number.readlink()))
        except OSError:  # the one that lists them
            continue
    return found


DOUBLES = (
    no_preadv,
    no_owners,
    no_affinity,
    no_hangup,
    no_folder_descriptors,
    no_links,
    locks_of_windows,
    files_in_use_stay,
)
