"""How a command that works on a live bus is ended from outside."""

from __future__ import annotations

import signal
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def ended_gently() -> Iterator[None]:
    """A kill or a terminal that closes ends what is inside as Ctrl-C does, so that it can still report."""
    names = [name for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name)]
    before = {name: signal.signal(getattr(signal, name), signal.default_int_handler) for name in names}
    try:
        yield
    finally:
        for name, handler in before.items():
            signal.signal(getattr(signal, name), handler)
