"""Single keys from a terminal, without waiting for Enter; where there is no terminal, no keys."""

from __future__ import annotations

import os
import select
import sys
import time
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager
from types import ModuleType
from typing import Any, Final

ENTER: Final = "\n"
ERASE: Final = "\x7f"
_SAME: Final = {"\r": ENTER, "\b": ERASE}


def _module(name: str) -> ModuleType | None:
    try:
        return __import__(name)
    except ImportError:
        return None


class Keys:
    """Keys as they are pressed. ``present`` is False where nobody can press any."""

    def __init__(self, present: bool) -> None:
        self.present = present
        self._waiting: deque[str] = deque()
        self._console: Any = _module("msvcrt") if present and os.name == "nt" else None

    def wait(self, seconds: float) -> str:
        """The next key, "" if none comes in time. A terminal that goes away presses q."""
        if self._waiting:
            return self._waiting.popleft()
        if not self.present:
            time.sleep(seconds)
            return ""
        text = self._from_console(seconds) if self._console else self._from_terminal(seconds)
        self._waiting += [_SAME.get(char, char) for char in text]
        return self._waiting.popleft() if self._waiting else ""

    def _from_terminal(self, seconds: float) -> str:
        number = sys.stdin.fileno()
        if not select.select([number], [], [], seconds)[0]:
            return ""
        raw = os.read(number, 1024)
        if not raw:
            self.present = False
            return "q"
        return raw.decode("utf-8", "replace")

    def _from_console(self, seconds: float) -> str:
        end = time.monotonic() + seconds
        while not self._console.kbhit():
            if time.monotonic() >= end:
                return ""
            time.sleep(0.02)
        return str(self._console.getwch())

    def forget(self) -> None:
        """Drop what was pressed before a question was asked."""
        while self.wait(0):
            pass


@contextmanager
def open_keys() -> Iterator[Keys]:
    """Keys of the terminal on standard input, which is put back as it was at the end."""
    if not sys.stdin or not sys.stdin.isatty():
        yield Keys(present=False)
        return
    termios, tty = _module("termios"), _module("tty")
    if termios is None or tty is None:
        yield Keys(present=os.name == "nt")
        return
    number = sys.stdin.fileno()
    before = termios.tcgetattr(number)
    try:
        tty.setcbreak(number)
        yield Keys(present=True)
    finally:
        termios.tcsetattr(number, termios.TCSADRAIN, before)
