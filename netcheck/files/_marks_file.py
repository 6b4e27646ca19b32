"""Writing the marks file beside a capture, again and again while it grows."""

from __future__ import annotations

import json
import os
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

from netcheck.errors import InputError
from netcheck.files._job import Mark


def marks_text(marks: Sequence[tuple[Mark, str]], head: Sequence[str] = ()) -> str:
    """A marks file; each mark comes with a comment on how it came about, ``head`` is comments too."""
    lines = [_comment(line) for line in head] + ['kind = "marks"', "format = 1"]
    for mark, how in marks:
        lines += ["", "[[mark]]"] + ([_comment(how)] if how else [])
        lines.append(f"role = {_string(mark.role)}")
        if mark.between is not None:
            low, high = mark.between
            lines.append(f"between = [{float(low)!r}, {float(high)!r}]")
        else:
            lines.append(f"state = {mark.state if isinstance(mark.state, int) else _string(str(mark.state))}")
        lines += [f"from = {float(mark.from_)!r}", f"to = {float(mark.to)!r}"]
    return "\n".join(lines) + "\n"


def _comment(text: str) -> str:
    return "# " + "".join(char if char.isprintable() else "\ufffd" for char in " ".join(text.split()))


def _string(text: str) -> str:
    """A TOML basic string; JSON's escapes are among its own, and DEL is the one it wants besides."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007F")


class MarksWriter:
    """A new marks file that is whole at any time: each ``save`` replaces it at once.

    A file that was there before is refused; with ``replace`` it stays until the first ``save``. Raises
    InputError when it cannot be made or written.
    """

    def __init__(self, path: Path, head: Sequence[str] = (), *, replace: bool = False) -> None:
        self.path = path
        self._head = tuple(head)
        if replace and path.exists():
            return
        try:
            with path.open("x", encoding="utf-8", newline="\n") as stream:
                stream.write(marks_text((), self._head))
        except FileExistsError as error:
            raise InputError(
                path,
                "exists already",
                where="-o",
                remedy="name a different log, or give --force to replace it",
            ) from error
        except OSError as error:
            raise self._fault(error) from error

    def save(self, marks: Sequence[tuple[Mark, str]]) -> None:
        """These marks, and no others."""
        temporary = self.path.with_name(f".{self.path.name}.{os.getpid()}.part")
        try:
            with temporary.open("x", encoding="utf-8", newline="\n") as stream:
                stream.write(marks_text(marks, self._head))
                stream.flush()
                os.fsync(stream.fileno())
            temporary.replace(self.path)
        except OSError as error:
            raise self._fault(error) from error
        finally:
            with suppress(OSError):
                temporary.unlink()

    def discard(self) -> None:
        """Take it away again: the capture that it belongs to came to nothing."""
        with suppress(OSError):
            self.path.unlink()

    def _fault(self, error: OSError) -> InputError:
        return InputError(
            self.path, f"cannot be written: {error.strerror or error}", remedy="choose another place with -o"
        )
