"""Where a command's result goes: standard output, or a file that is whole or not there at all."""

from __future__ import annotations

import json
import os
import shutil
import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO, Protocol

from netcheck.errors import InputError, UsageError

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
    check_target(target, inputs)
    if target.exists() and not target.is_file():  # a device or a named pipe: nothing to rename
        with _written(target), target.open("wb") as stream:
            yield _File(stream)
        return
    target = target.resolve()  # a link stays a link, and what it leads to is replaced
    temporary = target.with_name(f".{target.name}.{os.getpid()}.part")
    with _written(target):
        try:
            with temporary.open("xb") as stream:
                yield _File(stream)
            if target.exists():
                shutil.copymode(target, temporary)
            temporary.replace(target)
        finally:
            with suppress(OSError):
                temporary.unlink()


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
