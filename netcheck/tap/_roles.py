"""The item's needs on this pair: is each one's message here, and what does it say just now?"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from netcheck.database import Signal
from netcheck.evidence import ChannelSeen, Observation
from netcheck.files import Need
from netcheck.roles import ResolvedRole, RolesByName, Watch
from netcheck.tap._model import RoleFound, State
from netcheck.words import listing, milliseconds

_LONG_ENOUGH: Final = 10.0  # s awake before an absent message is called absent


@dataclass(frozen=True)
class Pair:
    """What was heard of the watched signals on one channel; seconds: how long it was awake."""

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

    def found(state: State, text: str, next_: str = "") -> RoleFound:
        counts = state if state is State.RIGHT or not need.optional else State.NOTE
        message, signal = (source.entry.message, source.entry.signal) if source else (None, None)
        return RoleFound(need.role, counts, need.optional, message, signal, text, next_)

    if suppliers:
        return found(State.NOTE, f"comes from {listing(suppliers)}, once that is fitted")
    if source is None and not sources:
        text = "the vehicle file does not map it for this model year"
        return found(State.WRONG, text, "Add the role to the vehicle file.")
    if source is None:
        networks = listing(list(dict.fromkeys(entry.network for entry in sources)), last="or")
        return found(
            State.WRONG, f"is on {networks}, not here", "Wire the part there, or bring the signal here."
        )
    if source.watch is None:
        text = f"the DBC of {pair.network} has no {source.lacks}"
        return found(State.WRONG, text, "Correct the vehicle file or take the DBC that fits this vehicle.")
    return _seen(pair, need, source, source.watch, found)


def _seen(
    pair: Pair,
    need: Need,
    source: ResolvedRole,
    watch: Watch,
    found: Callable[[State, str, str], RoleFound],
) -> RoleFound:
    seen = pair.observation(watch)
    unlock = source.entry.unlocked_by
    title = watch.message.name
    if not seen.frames and need.evidence == "defined":
        return found(State.NOTE, f"{title} is defined and did not come; the part asks for no more", "")
    if not seen.frames and unlock is not None:
        text = (
            f"{title} did not come; it may wait for coding ({unlock.module}.{unlock.field} = {unlock.value})"
        )
        return found(State.UNKNOWN, text, "Read the coding out, and see what netcheck plan says.")
    if not seen.frames:
        short = pair.seconds < _LONG_ENOUGH
        state = State.UNKNOWN if short else State.WRONG
        text = f"{title} did not come in {pair.seconds:.0f} s awake"
        return found(state, text, "Ignition on, work the function, and listen for a minute.")
    if 2 * seen.too_short > seen.frames:
        return found(State.WRONG, f"{title} is too short to hold it", "The DBC may be of another model year.")
    if seen.unavailable == seen.carried:
        text = f"{title} comes, and says only 'no value' so far"
        return found(State.UNKNOWN, text, "Ignition on, work the function, and listen again.")
    text = f"{title} every {milliseconds(seen.gaps.percentile_ns(50))}, {_values(seen, watch.signal)}"
    return found(State.RIGHT, text, "")


def _values(seen: Observation, signal: Signal) -> str:
    """``P (0)``, ``0 to 12.5 km/h``; the extremes of what came."""
    if not seen.valid:
        return "its values outside the DBC's limits"
    low, high = _value(seen.raw.low, seen.value.low, signal), _value(seen.raw.high, seen.value.high, signal)
    return f"reads {low}" if low == high else f"from {low} to {high}"


def _value(raw: float | None, value: float | None, signal: Signal) -> str:
    label = signal.labels.get(int(raw)) if raw is not None and float(raw).is_integer() else None
    if label is not None:
        return f"{label} ({raw})"
    return f"{value:.6g} {signal.unit}".strip() if value is not None else "?"
