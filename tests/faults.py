"""File operations that fail: the n-th write, sync, rename … of a command ends as on a full or broken disk."""

from __future__ import annotations

import errno
import io
import os
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest


class Faults:
    """Counts the operations of a command below a folder, and lets one of them fail.

    call:   the number of the one that fails, from 1; 0 for none
    number: what the system says
    seen:   the operations so far, by name
    """

    def __init__(self, folder: Path, call: int = 0, number: int = errno.ENOSPC) -> None:
        self.folder = folder
        self.seen: list[str] = []
        self._call = call
        self._number = number

    def met(self, name: str, path: object) -> None:
        """One operation; raises what the system would."""
        self.seen.append(name)
        if len(self.seen) == self._call:
            raise OSError(self._number, os.strerror(self._number), os.fspath(path) if path else None)

    def holds(self, path: object) -> bool:
        """Whether it is one of the folder's files: the cache folder and devices are none."""
        return isinstance(path, str | Path) and self.folder in Path(path).absolute().parents

    def install(self, patch: pytest.MonkeyPatch) -> None:
        """Until the patch is undone, every operation goes by here."""
        patch.setattr(Path, "open", self._opened(Path.open))
        patch.setattr(Path, "replace", self._renamed(Path.replace))
        patch.setattr(os, "replace", self._renamed(os.replace))
        patch.setattr(os, "rename", self._renamed(os.rename))
        patch.setattr(os, "fsync", self._synced(os.fsync))
        patch.setattr(shutil, "copymode", self._copied(shutil.copymode))

    def _opened(self, real: Callable[..., Any]) -> Callable[..., Any]:
        def opened(path: Path, mode: str = "r", *rest: Any, **named: Any) -> Any:
            if not self.holds(path) or not set(mode) & set("wxa+"):
                return real(path, mode, *rest, **named)
            self.met("open", path)
            buffered = io.BufferedWriter(_FaultyFile(self, path, mode.replace("b", "").replace("t", "")))
            if "b" in mode:
                return buffered
            return io.TextIOWrapper(buffered, named.get("encoding"), newline=named.get("newline"))

        return opened

    def _renamed(self, real: Callable[..., Any]) -> Callable[..., Any]:
        def renamed(source: Any, target: Any) -> Any:
            if self.holds(source):
                self.met("rename", source)
            return real(source, target)

        return renamed

    def _synced(self, real: Callable[[Any], None]) -> Callable[[Any], None]:
        def synced(number: Any) -> None:
            self.met("sync", None)
            real(number)

        return synced

    def _copied(self, real: Callable[..., None]) -> Callable[..., None]:
        def copied(source: Any, target: Any) -> None:
            if self.holds(target):
                self.met("mode", target)
            real(source, target)

        return copied


class _FaultyFile(io.FileIO):
    def __init__(self, faults: Faults, path: Path, mode: str) -> None:
        super().__init__(path, mode)
        self._faults = faults
        self._path = path
        self._is_open = True

    def write(self, data: Any, /) -> int:
        self._faults.met("write", self._path)
        return super().write(data) or 0

    def close(self) -> None:
        if self._is_open:
            self._is_open = False
            super().close()
            self._faults.met("close", self._path)
