"""How long after a change a role reacts: by the same change on another network, by another role, by marks."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Final

import numpy as np

from netcheck.files import LoadedMark, Retrofit
from netcheck.prove._edges import Edges, Times
from netcheck.prove._measure import CaptureMeasured
from netcheck.prove._model import (
    DelayStart,
    Latency,
    most_ms,
)
from netcheck.records import dataclass

NEAR_NS: Final = 2_000_000_000  # two edges this near are one change on two networks
REACTION_NS: Final = 10_000_000_000  # within which another role's reaction is looked for
MARKED_NS: Final = 500_000_000  # a change that comes so long before the mark is one that it means


@dataclass(frozen=True)
class Reaction:
    """A role that is expected to follow another one.

    limit_ms, is_published: of a published rule, or of the retrofit file; None without one
    is_end: it goes off when the other one does
    """

    cause: str
    role: str
    limit_ms: float | None = None
    is_published: bool = False
    is_end: bool = False

    def is_told_by(self, latency: Latency) -> bool:
        """Whether a delay is one of this reaction."""
        told = latency.start is DelayStart.CAUSE and (latency.cause, latency.role) == (self.cause, self.role)
        return told and (latency.is_end, latency.limit_ms) == (self.is_end, self.limit_ms)


# Image within 2.0 s of the start of the backing event: 49 CFR 571.111, S5.5.3 (United States). S5.5.4, not
# shown after the event has ended, gives no time from leaving reverse: a retrofit file may.
REACTIONS: Final = (
    Reaction("reverse-engaged", "camera.active", 2000.0, is_published=True),
    Reaction("reverse-engaged", "park.lamp"),
    Reaction("reverse-engaged", "park.buzzer-rear"),
    Reaction("cruise.set", "cruise.state"),
    Reaction("cruise.resume", "cruise.state"),
)


def reactions_of(retrofit: Retrofit) -> tuple[Reaction, ...]:
    """The usual reactions, and the limits of a retrofit file; a published limit stays beside the file's."""
    own = [
        Reaction(entry.cause, entry.role, limit, is_end=is_end)
        for entry in retrofit.reaction
        for is_end, limit in ((False, entry.on_within_ms), (True, entry.off_within_ms))
        if limit is not None
    ]
    limited = {(one.cause, one.role) for one in own if not one.is_end}
    usual = [one for one in REACTIONS if one.limit_ms is not None or (one.cause, one.role) not in limited]
    return (*usual, *own)


def latencies(
    captures: Sequence[CaptureMeasured],
    role: str,
    network: str | None,
    limit_ms: float | None,
    reactions: Sequence[Reaction] = REACTIONS,
) -> Iterator[Latency]:
    """How late a role is on a network, over all captures.

    limit_ms: how late a change may be by the retrofit file
    """
    if network is None:
        return
    copied = _copied(captures, role, network, limit_ms)
    if copied is not None:
        yield copied
    for reaction in reactions:
        if reaction.role == role:
            caused = _caused(captures, reaction, network)
            if caused is not None:
                yield caused
    marked = _marked(captures, role, network, limit_ms)
    if marked is not None:
        yield marked


def _of(capture: CaptureMeasured, role: str, network: str) -> Edges | None:
    return next((edges for edges in capture.edges.of(role) if edges.watch.network == network), None)


def _copied(
    captures: Sequence[CaptureMeasured], role: str, network: str, limit_ms: float | None
) -> Latency | None:
    """By the same change on the network where it was seen first."""
    found: dict[str, list[int]] = {}
    for capture in captures:
        own = _of(capture, role, network)
        for other in capture.edges.of(role) if own is not None and own.watch.active else ():
            if own is not None and other.watch.network != network:
                found.setdefault(other.watch.network, []).extend(_between(other, own))
    earlier = {name: float(np.median(delays)) for name, delays in found.items() if min(delays, default=0) > 0}
    first = max(earlier, key=lambda name: (earlier[name], name), default=None)
    if first is None:
        return None  # it was not always seen there first
    return Latency(role, DelayStart.COPY, role, first, _sorted_ms(found[first]), limit_ms)


def _between(cause: Edges, reaction: Edges) -> Iterator[int]:
    """From each change of the one to the nearest like change of the other, ns; negative if it came first."""
    for causes, reactions in ((cause.rising, reaction.rising), (cause.falling, reaction.falling)):
        if not len(reactions):
            continue
        place = np.searchsorted(reactions, causes)
        sooner = reactions[np.maximum(place - 1, 0)] - causes
        later = reactions[np.minimum(place, len(reactions) - 1)] - causes
        nearest = np.where(np.abs(sooner) <= np.abs(later), sooner, later)
        yield from nearest[np.abs(nearest) <= NEAR_NS].tolist()


def _caused(captures: Sequence[CaptureMeasured], reaction: Reaction, network: str) -> Latency | None:
    """By the change of the role that it follows, on the network where that was seen first."""
    limit = reaction.limit_ms
    most = np.inf if limit is None else 1e6 * most_ms(limit, is_published=reaction.is_published)
    delays: list[int] = []
    missed, first = 0, ""
    for capture in captures:
        own = _of(capture, reaction.role, network)
        causes = capture.edges.of(reaction.cause)
        if own is None or not causes:
            continue
        cause = min(causes, key=lambda edges: int(edges.rising[0]) if len(edges.rising) else 1 << 62)
        first = first or cause.watch.network
        found, late = (_ended if reaction.is_end else _begun)(capture, own, cause, most)
        delays += found
        missed += late
    if not delays and not missed:
        return None
    return Latency(
        reaction.role,
        DelayStart.CAUSE,
        reaction.cause,
        first,
        _sorted_ms(delays),
        limit,
        is_published=reaction.is_published,
        missed=missed,
        is_end=reaction.is_end,
    )


def _begun(capture: CaptureMeasured, own: Edges, cause: Edges, most_ns: float) -> tuple[list[int], int]:
    """Delays from where the cause began to where the reaction did, and how often it did not in time.

    A part that begins to send when it is wanted, and is active at once, has begun then.
    """
    begins = cause.rising
    lasted = _next(cause.falling, begins, capture.edges.last_ns) - begins
    was_on = np.array([bool(state) for state in own.states_at(begins)], np.bool_)
    delay = _next(own.active, begins, 1 << 62, is_same_enough=True) - begins
    came = (delay <= max(REACTION_NS, most_ns if np.isfinite(most_ns) else 0)) & ~was_on
    return delay[came].tolist(), int((~was_on & ~came & (lasted > most_ns)).sum())


def _ended(capture: CaptureMeasured, own: Edges, cause: Edges, most_ns: float) -> tuple[list[int], int]:
    """Delays from where the cause ended to where the reaction did, and how often it stayed on too long.

    What was off already, or was asked for again before it went off, tells nothing; nor does a network that
    fell asleep meanwhile, or a part that stopped sending.
    """
    ends = cause.falling
    again = _next(cause.rising, ends, capture.edges.last_ns)
    was_on = np.array([state is True for state in own.states_at(ends)], np.bool_)
    off = _next(own.falling, ends, 1 << 62, is_same_enough=True)
    went = was_on & (off < again)
    if _stayed_away_ms(capture, own) > most_ns / 1e6:
        return (off - ends)[went & (off - ends <= most_ns)].tolist(), 0
    heard = np.minimum(again, _awake_until(capture, own.watch.network, ends))
    return (off - ends)[went].tolist(), int((was_on & ~went & (heard - ends > most_ns)).sum())


def _stayed_away_ms(capture: CaptureMeasured, own: Edges) -> float:
    """How long a message that comes by the clock did not, while its network was awake; 0 for others."""
    timings = (
        message.timing
        for channel in capture.channels.values()
        if channel.network == own.watch.network
        for message in channel.survey.messages
        if message.frame_id in channel.ids_of(own.watch.message)
    )
    return max((timing.longest for timing in timings if timing.has_paused), default=0.0)


def _awake_until(capture: CaptureMeasured, network: str, times: Times) -> Times:
    """int64[n]: up to when the network kept on talking after each moment; the moment itself if it slept."""
    periods = [
        period
        for channel in capture.channels.values()
        if channel.network == network
        for period in channel.survey.awake_periods
    ]
    first_ns = capture.edges.first_ns
    spans = [(first_ns + round(1e9 * begin), first_ns + round(1e9 * end)) for begin, end in periods]
    return np.array(
        [max((end for begin, end in spans if begin <= at <= end), default=at) for at in times.tolist()],
        np.int64,
    )


def _next(times: Times, since: Times, never: int, *, is_same_enough: bool = False) -> Times:
    """int64[n]: the first of the ascending times after each moment, or at it; ``never`` without one."""
    place = np.searchsorted(times, since, "left" if is_same_enough else "right")
    return np.concatenate([times, np.array([never], np.int64)])[place]


def _marked(
    captures: Sequence[CaptureMeasured], role: str, network: str, limit_ms: float | None
) -> Latency | None:
    """By the marks that call for the active state: as good as a person's watch."""
    delays: list[int] = []
    for capture in captures:
        own = _of(capture, role, network)
        if own is not None:
            delays += mark_delays(own, capture.edges.start_ns, capture.loaded.marks)
    if not delays:
        return None
    return Latency(role, DelayStart.MARK, role, network, _sorted_ms(delays), limit_ms)


def mark_delays(edges: Edges, start_ns: int, marks: Iterable[LoadedMark]) -> Iterator[int]:
    """How long after the beginning of each mark the role became active, ns; start_ns: where marks count from.

    As good as a person's watch. Marks of other roles and states are passed over, and those without a change.
    """
    for mark in (entry.mark for entry in marks) if edges.watch.active else ():
        if mark.role != edges.watch.role or mark.state != "active":
            continue
        begin, end = (start_ns + round(time * 1e9) for time in (mark.from_, mark.to))
        place = int(np.searchsorted(edges.rising, begin - MARKED_NS))
        if place < len(edges.rising) and edges.rising[place] <= end:
            yield max(int(edges.rising[place]) - begin, 0)


def _sorted_ms(delays_ns: Sequence[int]) -> tuple[float, ...]:
    return tuple(round(max(delay, 0) / 1e6, 3) for delay in sorted(delays_ns))
