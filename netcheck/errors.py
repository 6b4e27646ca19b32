"""Every error that netcheck raises on purpose.

    NetcheckError
    ├── InputError      a file, or a place in one, cannot be used
    └── UsageError      the call itself makes no sense
        └── NoSuchSignalError    a signal that was not decoded is asked for; also a KeyError

Both print as one line and end a command with exit status 2. Findings about a vehicle
("this signal is missing") are never errors: they are data in a plan.
"""

from __future__ import annotations

from os import PathLike, fspath


def _one_line(text: str) -> str:
    return " ".join(printable_name(text).split())


def printable_name(name: str | PathLike[str]) -> str:
    """A file name as text that any stream takes: bytes that are not UTF-8 become ``\\xff``."""
    text = fspath(name)
    try:
        raw = text.encode("utf-8", "surrogateescape")
    except UnicodeEncodeError:
        raw = text.encode("utf-8", "backslashreplace")
    return raw.decode("utf-8", "backslashreplace")


class NetcheckError(Exception):
    """The root: catch this to catch everything netcheck raises on purpose."""


class InputError(NetcheckError):
    """A file, or a place in it, cannot be used.

    file:   the file as the user named it
    where:  the place in it: ``line 12``, a key path such as ``item[0].retrofit``, or ""
    what:   what is wrong, as a clause without a full stop
    remedy: what would be right or what to do, or ""
    """

    def __init__(self, file: str | PathLike[str], what: str, *, where: str = "", remedy: str = "") -> None:
        self.file = fspath(file)
        self.where = where
        self.what = what
        self.remedy = remedy
        super().__init__(str(self))

    def __str__(self) -> str:
        place = f"{self.file}: {self.where}" if self.where else self.file
        return _one_line(f"{place}: {self.what}" + (f" – {self.remedy}" if self.remedy else ""))


class UsageError(NetcheckError):
    """The call makes no sense, whatever the files hold."""

    def __init__(self, what: str, *, remedy: str = "") -> None:
        self.what = what
        self.remedy = remedy
        super().__init__(str(self))

    def __str__(self) -> str:
        return _one_line(self.what + (f" – {self.remedy}" if self.remedy else ""))


class NoSuchSignalError(UsageError, KeyError):
    """A signal that was not decoded is asked for."""
