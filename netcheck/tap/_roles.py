"""The item's needs on this pair: is each one's message here, and what does it say just now?"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

from netcheck.database import Signal
from netcheck.evidence import ChannelSeen, Observation
from netcheck.files import Need
from netcheck.records import dataclass
from netcheck.roles import ResolvedRole, RolesByName, Watch
from netcheck.tap._model import (
    Absence,
    LacksSignal,
    LiveValues,
    LockedBy,
    OnNetworks,
    RoleFacts,
    RoleFound,
    RoleReason,
    SignalValue,
    State,
    SuppliedBy,
)
from netcheck.words import unique

_CYCLES: Final = 10  # awake, before a message with a cycle time is called absent: as in a plan


@dataclass(frozen=True)
class Pair:
    """The watched signals on one channel; seconds: how long it was awake."""

    network: str
    seen: ChannelSeen
    watches: Sequence[Watch]
    seconds: float

    def observation(self, watch: Watch) -> Observation:
        """What was seen of one watch."""
        return self.seen.observations[self.watches.index(watch)]


def find_roles(
    pair: Pair, needs: Sequence[Need], sources: RolesByName, suppliers: Callable[[str], Sequence[str]]
) -> tuple[RoleFound, ...]:
    """Each need, in the retrofit's order. suppliers: other items of the job that supply a role here."""
    return tuple(_find(pair, need, sources.get(need.role, ()), suppliers(need.role)) for need in needs)


def _find(pair: Pair, need: Need, sources: Sequence[ResolvedRole], suppliers: Sequence[str]) -> RoleFound:
    source = next((entry for entry in sources if entry.network == pair.network), None)
    state, reason, facts = _assess(pair, need, (sources, source), suppliers)
    counts = state if state is State.RIGHT or not need.optional else State.NOTE
    message, signal = (source.entry.message, source.entry.signal) if source else (None, None)
    return RoleFound(need.role, counts, need.optional, message, signal, reason, facts)


def _assess(
    pair: Pair,
    need: Need,
    resolved: tuple[Sequence[ResolvedRole], ResolvedRole | None],
    suppliers: Sequence[str],
) -> tuple[State, RoleReason, RoleFacts]:
    """resolved: all entries of the role, and that of this network."""
    sources, source = resolved
    if suppliers:
        return State.NOTE, RoleReason.SUPPLIED, SuppliedBy(tuple(suppliers))
    if source is None and not sources:
        return State.WRONG, RoleReason.UNDEFINED_ROLE, RoleFacts()
    if source is None:
        networks = unique(entry.network for entry in sources)
        return State.WRONG, RoleReason.OTHER_NETWORK, OnNetworks(networks)
    if source.lacks is not None:
        return State.WRONG, RoleReason.UNDEFINED_SIGNAL, LacksSignal(pair.network, source.lacks)
    if source.watch is None:
        raise ValueError(source)  # what the DBC has can be watched
    return _seen(pair, need, source, source.watch)


def _seen(pair: Pair, need: Need, source: ResolvedRole, watch: Watch) -> tuple[State, RoleReason, RoleFacts]:
    seen = pair.observation(watch)
    unlock = source.entry.unlocked_by
    if not seen.frames and need.evidence == "defined":
        return State.NOTE, RoleReason.DEFINED, RoleFacts()
    if not seen.frames and unlock is not None:
        return State.UNKNOWN, RoleReason.LOCKED, LockedBy(unlock.module, unlock.field, unlock.value)
    if not seen.frames:
        cycle_ms = watch.message.cycle_time_ms
        is_due = bool(cycle_ms) and 1000 * pair.seconds >= _CYCLES * (cycle_ms or 0)
        state = State.WRONG if is_due else State.UNKNOWN
        return state, RoleReason.MESSAGE_ABSENT, Absence(pair.seconds, may_be_unused=not cycle_ms)
    if 2 * seen.too_short > seen.frames:
        return State.WRONG, RoleReason.SHORT_FRAME, RoleFacts()
    if seen.unavailable == seen.carried:
        return State.UNKNOWN, RoleReason.NOT_AVAILABLE, RoleFacts()
    return State.RIGHT, RoleReason.SEEN, _values(seen, watch.signal)


def _values(seen: Observation, signal: Signal) -> LiveValues:
    """The extremes of what came."""
    low = high = None
    if seen.valid:
        low = _value(seen.raw.low, seen.value.low, signal)
        high = _value(seen.raw.high, seen.value.high, signal)
    return LiveValues(seen.gaps.percentile_ns(50), low, high)


def _value(raw: float | None, value: float | None, signal: Signal) -> SignalValue:
    label = signal.labels.get(int(raw)) if raw is not None and float(raw).is_integer() else None
    return SignalValue(raw, value, label or "", signal.unit)
