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
from netcheck.words import counted, sentence

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


def peers_text(need: NeedResult) -> str:
    """What other vans of the year showed: a sentence, "" where no archive was asked or it knows nothing."""
    peers = need.facts.peers
    if peers is None:
        return ""
    if peers.strangers:
        where = f"{peers.moved:,} of {counted(peers.captures, 'capture')}"
        known = " (not known of how many vans)"
    else:
        where, known = f"{peers.moved_vans:,} of {counted(peers.vans, 'van')}", ""
    seen = f"seen moving {'in' if peers.strangers else 'on'} {where} of {peers.year}{known}"
    if not peers.moved:
        seen = f"not seen moving {'in' if peers.strangers else 'on'} any of {where.rpartition(' of ')[2]}"
        seen += f" of {peers.year}{known}"
    marks = f", marks followed in {counted(peers.answered, 'capture')}" if peers.answered else ""
    period = "" if peers.period_ms is None else f", every {peers.period_ms:.4g} ms"
    return f"Other vans, by the archive: {seen}{marks}{period}. That proves nothing of this van."


def advice(need: NeedResult) -> Advice:
    """What to do about a need."""
    return REASONS[need.reason].next(need)


def need_text(need: NeedResult) -> str:
    """What was seen, what else holds and what to do, as one paragraph."""
    seen = seen_text(need)
    parts = (
        sentence(seen[:1].upper() + seen[1:]),
        *(sentence(f"Also {line}") for line in also_lines(need)),
        peers_text(need),
        str(advice(need)),
    )
    return " ".join(part for part in parts if part)
