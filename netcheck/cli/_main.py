"""The one entry: every way a command can end becomes an exit status and at most one line."""

from __future__ import annotations

import gc
import os
import sys
import traceback
from collections.abc import Sequence
from contextlib import nullcontext
from functools import cache

from netcheck._compile import compiling
from netcheck.cache import FOLDER_VARIABLE, cache_folder
from netcheck.cli import _status as status
from netcheck.cli._later import postpone_metadata
from netcheck.cli._output import note
from netcheck.cli._signals import ended_gently
from netcheck.cli._streams import standard_streams
from netcheck.errors import NetcheckError, printable_name

TRACEBACK = "NETCHECK_TRACEBACK"
_LESS = "close other programs, or give a shorter capture or a smaller file"


def main(argv: Sequence[str] | None = None) -> int:
    """Run ``netcheck`` with these arguments, by default those of the process; returns the exit status."""
    is_own_process = argv is None
    if is_own_process:
        _make_quick()
    with standard_streams():
        try:
            with ended_gently() if is_own_process else nullcontext():
                code = _run(sys.argv[1:] if argv is None else list(argv))
                sys.stdout.flush()
        except NetcheckError as error:
            code = _say(str(error), status.BAD_INPUT)
        except KeyboardInterrupt:
            code = _say("interrupted", status.INTERRUPTED)
        except BrokenPipeError:
            code = status.BROKEN_PIPE
        except MemoryError:
            code = _say(f"there is not enough memory for this – {_LESS}", status.BAD_INPUT)
        except Exception as error:
            code = _say_fault(error, is_own_process)
    if is_own_process:
        gc.freeze()  # the process ends: nobody need look for garbage among all that it had
    return code


def _say_fault(error: Exception, is_own_process: bool) -> int:
    """An exception that nobody expected; whoever wants to look into it gets it whole."""
    if isinstance(error, OSError) and isinstance(error.filename, str | bytes):
        name = printable_name(os.fsdecode(error.filename))
        return _say(f"{name}: cannot be used: {error.strerror}", status.BAD_INPUT)
    if os.environ.get(TRACEBACK):
        if not is_own_process:
            raise error
        traceback.print_exception(error)  # not raised: the interpreter would end with 1, which is no-go
        return status.FAULT
    return _say(
        f"a fault of netcheck's own, not of your files: {type(error).__name__}: {error}"
        f" – please report it with what the same command prints when {TRACEBACK}=1 is set",
        status.FAULT,
    )


def _make_quick() -> None:
    """Settings of a process of our own, worth a fifth of a short run.

    No matrix is multiplied here, no plugin checks models, and imports leave no garbage to look for.
    """
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    postpone_metadata()
    gc.set_threshold(100_000, 20, 20)


def _run(arguments: list[str]) -> int:
    _make_printable()
    if _note_compiling not in compiling:
        compiling.append(_note_compiling)
    from netcheck.cli._app import run

    return run(arguments)


@cache
def _note_compiling(is_kept: bool) -> None:
    """Said once, when there is something to compile: after installation, or after a change of processor."""
    if is_kept:
        note("compiling for this computer, which takes some seconds and is kept for the next time")
        return
    folder = cache_folder()
    why = f"{folder} is full, read-only, or open to other users" if folder else "there is no home folder"
    note(
        f"compiling for this computer, which takes some seconds and cannot be kept: {why}"
        f" – {FOLDER_VARIABLE} can name a folder of your own"
    )


def _make_printable() -> None:
    """A terminal that lacks a character shows a question mark instead of ending the command."""
    for stream in (sys.stdout, sys.stderr):
        encoding = (getattr(stream, "encoding", None) or "").lower().replace("-", "")
        if encoding != "utf8" and hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")


def _say(text: str, code: int) -> int:
    note(text)
    return code
