"""Exit statuses, and which of several is the worst."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

GO: Final = 0  # also go with changes; nothing wrong
NO_GO: Final = 1
BAD_INPUT: Final = 2
UNPROVEN: Final = 3
FAULT: Final = 70  # a fault of netcheck's own, as sysexits.h has it
INTERRUPTED: Final = 130  # 128 + SIGINT, as shells have it
BROKEN_PIPE: Final = 141  # 128 + SIGPIPE: the reader of our output went away

_WORST_FIRST: Final = (BAD_INPUT, NO_GO, UNPROVEN, GO)


def worst(statuses: Iterable[int]) -> int:
    """The status that a run over several jobs ends with; GO for none."""
    return min(statuses, key=_WORST_FIRST.index, default=GO)


def of_verdict(verdict: str) -> int:
    """The exit status for a verdict."""
    return {"no-go": NO_GO, "unproven": UNPROVEN}.get(verdict, GO)
