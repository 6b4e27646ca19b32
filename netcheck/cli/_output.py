"""Where a command's result goes: standard output, or a file that is whole or not there at all."""

from __future__ import annotations

import json
import os
import shutil
import sys
import zlib
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, BinaryIO, Final, Protocol

from netcheck.errors import InputError, UsageError
from netcheck.records import dataclass

_LONGEST_NAME: Final = 200  # bytes of a name that has room for what marks a temporary file
PIPED_WIDTH = 80  # columns of a text that no terminal shows


class Output(Protocol):
    """An open result. Text is UTF-8 in a file, and what the terminal can show on standard output."""

    @property
    def buffer(self) -> BinaryIO:
        """The bytes below, for formats that are not text."""

    def write(self, text: str, /) -> int:
        """Append text."""


@dataclass(frozen=True)
class Look:
    """How a text may look where it goes.

    width:  columns
    colour: escape sequences are understood
    height: lines of the terminal; None where there is none
    """

    width: int
    colour: bool
    height: int | None = None


class _File:
    def __init__(self, stream: BinaryIO) -> None:
        self.buffer = stream

    def write(self, text: str, /) -> int:
        self.buffer.write(text.encode("utf-8"))
        return len(text)


def look(target: Path | None) -> Look:
    """Plain text at 80 columns unless a terminal shows it; NO_COLOR and TERM=dumb are respected."""
    if target is not None or not sys.stdout.isatty():
        return Look(PIPED_WIDTH, colour=False)
    plain = bool(os.environ.get("NO_COLOR")) or os.environ.get("TERM") == "dumb"
    columns, lines = shutil.get_terminal_size((PIPED_WIDTH, 24))
    return Look(min(max(columns, 40), 120), colour=not plain, height=lines)


def check_target(target: Path | None, inputs: Iterable[Path]) -> None:
    """Refuse a target that could not be written, or is an input, before any long work starts."""
    if target is None:
        return
    with _written(target):
        target.is_file()  # says what the system has against the name
    if target.is_dir():
        raise InputError(target, "is a folder", where="-o", remedy="name a file in it")
    if not target.parent.is_dir():
        raise InputError(target, "its folder does not exist", where="-o", remedy="create the folder first")
    for path in inputs:
        with suppress(OSError):
            if target.exists() and target.samefile(path):
                raise InputError(
                    target, "is an input of this command", where="-o", remedy="name another file to write"
                )


def check_new(target: Path, *, force: bool) -> None:
    """Refuse to replace a file, unless ``force`` says so. Devices and pipes hold nothing to lose."""
    if target.is_file() and not force:
        raise InputError(
            target,
            "exists already",
            where="-o",
            remedy="name a different file, or give --force to replace it",
        )


@contextmanager
def open_output(
    target: Path | None, *, inputs: Iterable[Path] = (), binary: bool = False
) -> Iterator[Output]:
    """Open the result; None is standard output.

    A file is written under a temporary name in its own folder and renamed when the block ends well. When
    it does not, the temporary file goes and a file that stood there stays as it was.
    binary: the result is no text, and a terminal is refused.
    Raises InputError for a target that is an input or cannot be written, UsageError for a terminal.
    """
    if target is None:
        if binary and sys.stdout.isatty():
            raise UsageError("this format is not for a terminal", remedy="name a file with -o, or pipe it")
        yield sys.stdout
        sys.stdout.flush()
        return
    with open_outputs(target) as together:
        yield together.open(target, inputs=inputs)


@contextmanager
def open_outputs(target: Path) -> Iterator[OutputGroup]:
    """Several results that take their places together when the block ends well, or not at all.

    target: the one that is named where writing fails and no other is known to be at fault
    Raises InputError for what cannot be written.
    """
    group = OutputGroup()
    with _written(target):
        try:
            yield group
            group.settle()
        finally:
            group.clear()


class OutputGroup:
    """Files under temporary names in their own folders, until all of them are whole."""

    def __init__(self) -> None:
        self._parts: list[_PendingFile] = []
        self._streams: list[BinaryIO] = []

    def open(self, target: Path, *, inputs: Iterable[Path] = ()) -> Output:
        """One more result. Raises InputError for a target that is an input or cannot be written."""
        check_target(target, inputs)
        with _written(target):
            if target.exists() and not target.is_file():  # a device or a named pipe: nothing to rename
                stream: BinaryIO = target.open("wb")
            else:
                target = target.resolve()  # a link stays a link, and what it leads to is replaced
                part = _PendingFile(target, _beside(target, "part"), _beside(target, "old"))
                stream = part.temporary.open("xb")
                self._parts.append(part)
        self._streams.append(stream)
        return _File(stream)

    def settle(self) -> None:
        """All files get their names; where one does not, those before it get back what was there."""
        for stream in self._streams:
            stream.close()
        for part in self._parts:
            with _written(part.target):
                if part.target.exists():
                    shutil.copymode(part.target, part.temporary)
        placed: list[tuple[_PendingFile, bool]] = []
        try:
            for part in self._parts:
                had_old = part.target.exists()
                with _written(part.target):
                    part.place(keeps_old=part is not self._parts[-1])
                placed.append((part, had_old))
        except BaseException:
            for part, had_old in reversed(placed):
                part.undo(had_old=had_old)
            raise

    def clear(self) -> None:
        """What is left of temporary files goes."""
        for stream in self._streams:
            with suppress(OSError):
                stream.close()
        for part in self._parts:
            for path in (part.temporary, part.old):
                with suppress(OSError):
                    path.unlink()


@dataclass(frozen=True)
class _PendingFile:
    """A result on its way. old: a second name of the file that stands there, until all are in place."""

    target: Path
    temporary: Path
    old: Path

    def place(self, *, keeps_old: bool) -> None:
        if keeps_old and self.target.exists():
            with suppress(OSError):  # not every file system has second names
                os.link(self.target, self.old)
        self.temporary.replace(self.target)

    def undo(self, *, had_old: bool) -> None:
        with suppress(OSError):
            if self.old.exists():
                self.old.replace(self.target)
            elif not had_old:
                self.target.unlink()


def _beside(target: Path, ending: str) -> Path:
    """A temporary name in the target's folder, never longer than file systems allow."""
    name = target.name
    if len(os.fsencode(name)) > _LONGEST_NAME:
        name = f"{name[:16]}.{zlib.crc32(os.fsencode(name)):08x}"
    return target.with_name(f".{name}.{os.getpid()}.{ending}")


@contextmanager
def _written(target: Path) -> Iterator[None]:
    """Translate what the file system says about writing ``target``."""
    try:
        yield
    except BrokenPipeError:
        raise
    except OSError as error:
        raise InputError(
            target, f"cannot be written: {error.strerror or error}", remedy="choose another place with -o"
        ) from error


def json_text(value: Any) -> str:
    """The one form in which every command prints JSON: indented, in the order it was built.

    Characters that a terminal acts upon, or that turn the direction of writing, are escaped.
    """
    from netcheck.words import escaped

    encoding = (getattr(sys.stdout, "encoding", None) or "ascii").lower().replace("-", "")
    text = json.dumps(value, indent=2, ensure_ascii=encoding != "utf8", allow_nan=False) + "\n"
    return escaped(text)


def note(text: str) -> None:
    """Say something to the person at the terminal: one line of printable text on standard error."""
    from netcheck.words import clean

    sys.stderr.write(f"netcheck: {clean(text)}\n")
    sys.stderr.flush()
