"""What a capture shows of every role that the vehicle file maps, in whatever model year."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from netcheck.evidence import CaptureSeen, ChannelSeen, Observation
from netcheck.files import LoadedMark
from netcheck.network import IdentityLevel
from netcheck.prove import Edges, mark_delays
from netcheck.roles import Watch

Place = tuple[str | None, IdentityLevel]


def role_rows(
    watches: Sequence[Watch],
    holds: Sequence[bool | None],
    seen: CaptureSeen,
    places: Mapping[str, Place],
    marks: Sequence[LoadedMark],
) -> Iterator[dict[str, Any]]:
    """A row for each watch on each channel that is its network.

    holds: per watch, whether the vehicle file has its entry for the model year; None without a year
    """
    for channel in seen.channels:
        network, level = places[channel.name]
        for number, watch in enumerate(watches):
            if watch.network != network:
                continue
            row = _role_row(channel, watch, channel.observations[number], level)
            turns = channel.turns[number] if channel.turns else None
            delays = mark_delays(Edges(watch, turns), seen.start_ns, marks) if turns and watch.active else ()
            values = turns.values if turns else ()
            yield {
                **row,
                "in_years": holds[number],
                "states": [watch.signal.labels.get(raw, str(raw)) for raw, _ in values],
                "state_frames": [count for _, count in values],
                "delays_ms": [round(delay / 1e6, 3) for delay in delays],
            }


def _role_row(channel: ChannelSeen, watch: Watch, seen: Observation, level: IdentityLevel) -> dict[str, Any]:
    signal, has_states = watch.signal, bool(watch.active)
    period, slow = seen.between.percentile_ns(50), seen.gaps.percentile_ns(99)
    return {
        "role": watch.role,
        "network": watch.network,
        "channel": channel.name,
        "identity": level.value,
        "message": watch.message.name,
        "signal": signal.name,
        "evidence": evidence_shown(seen, has_active_states=has_states, level=level),
        "frames": seen.frames,
        "carried": seen.carried,
        "too_short": seen.too_short,
        "unavailable": seen.unavailable,
        "out_of_range": seen.out_of_range,
        "valid": seen.valid,
        "active": seen.active if has_states else None,
        "inactive": seen.inactive if has_states else None,
        "low": seen.value.low,
        "high": seen.value.high,
        "limit_low": signal.minimum,
        "limit_high": signal.maximum,
        "unit": signal.unit or None,
        "period_ms": None if period is None else period / 1e6,
        "gap_p99_ms": None if slow is None else slow / 1e6,
        "at_changes": seen.is_sent_at_changes(has_active_states=has_states),
        "counter_steps": seen.counter.total if watch.counter else None,
        "counter_jumps": seen.counter.jumps if watch.counter else None,
        "marks": len(seen.marks),
        "marks_answered": sum(mark.is_answered for mark in seen.marks),
        "unasked": seen.outside.frames,
    }


def evidence_shown(seen: Observation, *, has_active_states: bool, level: IdentityLevel) -> str:
    """How well one capture shows a role, as a plan has it for a part without limits of its own.

    A doubtful network shows nothing beyond what the files define.
    """
    is_fit = (
        level is IdentityLevel.IDENTIFIED
        and seen.valid > 0
        and 2 * seen.too_short <= seen.frames
        and 100 * seen.out_of_range <= seen.carried - seen.unavailable
    )
    if not is_fit:
        return "defined"
    if not seen.has_moved(has_active_states=has_active_states):
        return "present"
    has_answered = bool(seen.marks) and all(mark.is_answered for mark in seen.marks)
    return "answers" if has_answered and not seen.outside.frames else "moves"
