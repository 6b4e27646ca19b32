"""All that is said of a need's reason: one entry of ``REASONS`` for each.

A new reason needs its entry in one of the tables joined here, with its functions above it, and nothing else
in this room. A test holds that none is missing.
"""

from __future__ import annotations

from typing import Final

from netcheck.report._reason_parts import Advice, ReasonWords
from netcheck.report._reasons_frames import FRAME_REASONS
from netcheck.report._reasons_movement import MOVEMENT_REASONS
from netcheck.report._reasons_place import PLACE_REASONS
from netcheck.verdict import NeedResult, Reason, Status
from netcheck.words import sentence

STATUS_WORDS: Final = {
    Status.MISSING: "missing",
    Status.EXPECTED: "expected",
    Status.AFTER_CODING: "after coding",
    Status.SUPPLIED: "supplied",
    Status.SHOWN: "shown",
}

REASONS: Final[dict[Reason, ReasonWords]] = {**PLACE_REASONS, **FRAME_REASONS, **MOVEMENT_REASONS}


def seen_text(need: NeedResult) -> str:
    """What was seen, in numbers: a clause without a full stop."""
    return REASONS[need.reason].seen(need)


def also_lines(need: NeedResult) -> list[str]:
    """Further reasons that hold: ``no-mark: no mark says when it was active``."""
    return [f"{reason}: {(REASONS[reason].brief or REASONS[reason].seen)(need)}" for reason in need.also]


def advice(need: NeedResult) -> Advice:
    """What to do about a need."""
    return REASONS[need.reason].next(need)


def need_text(need: NeedResult) -> str:
    """What was seen, what else holds and what to do, as one paragraph."""
    seen = seen_text(need)
    parts = (
        sentence(seen[:1].upper() + seen[1:]),
        *(sentence(f"Also {line}") for line in also_lines(need)),
        str(advice(need)),
    )
    return " ".join(part for part in parts if part)
