"""What the words of all remarks of a survey share."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from netcheck.records import dataclass
from netcheck.words import listing

_MOST_NAMES: Final = 3
RECORD_AGAIN: Final = "Close other programs on the computer, use another USB port, and record again."


@dataclass(frozen=True)
class RemarkWords:
    """What is said of a remark.

    found:   what was found, a clause without a full stop
    cause:   the likely cause, sentences; "" where ``found`` says it or nothing is known
    next:    the next check, sentences; "" for nothing
    channel: in place of the network's name, at the head of the channel; "" to leave that as it is
    match:   after how many ids match, in few words; ""
    is_grave: nothing else about the channel can be relied upon
    bars_plan: the capture is no good for a plan yet
    """

    found: str
    cause: str = ""
    next: str = ""
    channel: str = ""
    match: str = ""
    is_grave: bool = False
    bars_plan: bool = False


def listed(names: Sequence[object]) -> str:
    return listing([str(name) for name in names], most=_MOST_NAMES)


def share_text(share: float) -> str:
    """``0.4 %``, ``12 %``."""
    if share < 0.001:
        return "under 0.1 %"
    return f"{100 * share:.1f} %" if share < 0.1 else f"{100 * share:.0f} %"
