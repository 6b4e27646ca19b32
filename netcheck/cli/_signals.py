"""How a command is ended from outside."""

from __future__ import annotations

import signal
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def ended_gently() -> Iterator[None]:
    """A kill or a terminal that closes ends what is inside as Ctrl-C does: it reports, and tidies up.

    A signal that was ignored (nohup) stays so.
    """
    numbers = [getattr(signal, name) for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name)]
    before = {number: signal.getsignal(number) for number in numbers}
    taken = [number for number in numbers if before[number] is not signal.SIG_IGN]
    try:
        for number in taken:
            signal.signal(number, signal.default_int_handler)
        yield
    finally:
        for number in taken:
            signal.signal(number, before[number])
