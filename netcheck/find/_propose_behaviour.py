"""What captures show of proposed signals: never seen, never in range, constant, or moving."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from netcheck.capture import Capture
from netcheck.database import Database, Series, Signal, decode
from netcheck.find._propose import ranked
from netcheck.find._propose_model import Clue, ClueKind, Proposal, RoleProposals

_OUT_OF_RANGE: Final = 0.5  # share of values outside the DBC's limits from which on the signal is another one


def with_behaviour(
    found: Sequence[RoleProposals], database: Database, captures: Sequence[Capture]
) -> tuple[RoleProposals, ...]:
    """The proposals with what the captures show of each, ranked again.

    Frames are matched by id on all channels: captures of another network show nothing of the signals.
    """
    wanted = {(it.message, it.signal) for role in found for it in role.proposals}
    seen: dict[tuple[str, str], list[Series]] = {key: [] for key in wanted}
    names = {message for message, _ in wanted}
    chosen = replace(database, messages=tuple(m for m in database.messages if m.name in names))
    for capture in captures:
        decoded = decode(capture, chosen)
        for key in wanted:
            seen[key].append(decoded[key])
    clues = {key: _clue(database, key, series) for key, series in seen.items()}
    return tuple(
        ranked(role.role, [_with(it, clues[it.message, it.signal]) for it in role.proposals])
        for role in found
    )


def _with(proposal: Proposal, clue: Clue) -> Proposal:
    score = round(min(max(proposal.score + clue.weight, 0.0), 1.0), 3)
    return replace(proposal, score=score, clues=(*proposal.clues, clue))


def _clue(database: Database, key: tuple[str, str], series: Sequence[Series]) -> Clue:
    message = database.message(key[0])
    signal = message.signal(key[1]) if message else None
    values = np.concatenate([one.value for one in series]) if series else np.empty(0)
    if not len(values):
        return Clue(ClueKind.NOT_SEEN, -0.1, "")
    if signal is not None and (share := _out_of_range(signal, series)) > _OUT_OF_RANGE:
        return Clue(ClueKind.OUT_OF_RANGE, -0.4, f"{share:.0%}")
    different = len(np.unique(values))
    if different == 1:
        return Clue(ClueKind.CONSTANT, -0.05, f"{values[0]:g}")
    return Clue(ClueKind.MOVES, 0.03, str(different))


def _out_of_range(signal: Signal, series: Sequence[Series]) -> float:
    low = -np.inf if signal.minimum is None else signal.minimum
    high = np.inf if signal.maximum is None else signal.maximum
    outside = total = 0
    for one in series:
        known = ~np.isin(one.raw, np.array(list(signal.labels), dtype=np.int64)) if signal.labels else None
        value = one.value if known is None else one.value[known]
        outside += int(np.count_nonzero((value < low) | (value > high)))
        total += len(value)
    return outside / total if total else 0.0
