"""A network as a whole before and after: how full it is, error frames, and how soon it falls asleep."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Sequence
from typing import Final

import numpy as np

from netcheck.network import ChannelLoad, FrameId, LoadRates
from netcheck.prove._change_model import (
    ErrorFramesMore,
    LoadHigher,
    SleepLater,
    VehicleChange,
    VehicleState,
)
from netcheck.prove._edges import ENGINE, TERMINAL_15
from netcheck.prove._measure import ChannelMeasured, MessageInState
from netcheck.prove._note_model import (
    FewErrorFrames,
    LoadUncompared,
    ProveNote,
    SleepUncompared,
)
from netcheck.records import dataclass

LEAST_LOAD_S: Final = 5.0  # of one state on both sides
MORE_LOAD: Final = 0.02  # of the bit rate, beyond what the job adds …
MORE_OF_IT: Final = 0.1  # … and of the load before
FEW_ERRORS: Final = 2  # beyond what the rate before makes likely
DEVIATIONS: Final = 3.0  # of a count by chance, whose variance is its mean
LATER: Final = 1.2  # times the longest time to sleep before, and …
LATER_S: Final = 2.0  # … so many seconds
SILENCE_S: Final = 1.0


@dataclass(frozen=True)
class _Filled:
    """How full a channel was in one state: share of the bit rate, that of planned ids, seconds awake."""

    state: VehicleState
    load: float
    planned: float
    awake_s: float


@dataclass(frozen=True)
class Sleep:
    """Once that terminal 15 went off: seconds to the first silence, None without one in ``waited_s``."""

    asleep_s: float | None
    waited_s: float
    engine_ran: bool | None


class NetworkBus:
    """Two sides of one network as a whole."""

    def __init__(
        self,
        network: str,
        before: Sequence[ChannelMeasured],
        after: Sequence[ChannelMeasured],
        rates: LoadRates,
        planned_new: Collection[FrameId],
    ) -> None:
        self._network = network
        self._before, self._after = before, after
        self._loads = (
            _filled(before, rates, planned_new),
            _filled(after, rates, planned_new),
        )
        self._sleeps = (
            [sleep for c in before for sleep in _sleeps(c)],
            [sleep for c in after for sleep in _sleeps(c)],
        )

    def changes(self) -> Iterator[VehicleChange]:
        """What is worse than before."""
        yield from self._load()
        yield from self._errors()
        yield from self._sleep()

    # -- load

    def _alike(self) -> tuple[_Filled, _Filled] | None:
        """The state that was recorded longest on both sides."""
        pairs = [
            (one, other)
            for one in self._loads[0]
            for other in self._loads[1]
            if one.state.is_like(other.state) and min(one.awake_s, other.awake_s) >= LEAST_LOAD_S
        ]
        return max(pairs, key=lambda pair: min(pair[0].awake_s, pair[1].awake_s), default=None)

    @property
    def loads(self) -> tuple[float, float] | None:
        """Mean load before and after in one state."""
        pair = self._alike()
        return (pair[0].load, pair[1].load) if pair else None

    def _load(self) -> Iterator[LoadHigher]:
        worst: LoadHigher | None = None
        for one in self._loads[0]:
            for other in self._loads[1]:
                if not one.state.is_like(other.state) or min(one.awake_s, other.awake_s) < LEAST_LOAD_S:
                    continue
                more = other.load - other.planned - one.load
                found = LoadHigher(self._network, one.state, one.load, other.load, other.planned)
                if more > max(MORE_LOAD, MORE_OF_IT * one.load) and (
                    worst is None or more > worst.after - worst.planned - worst.before
                ):
                    worst = found
        if worst is not None:
            yield worst

    # -- error frames

    def _errors(self) -> Iterator[ErrorFramesMore]:
        found = self._counted_errors()
        if self._is_more(found):
            yield found

    def _counted_errors(self) -> ErrorFramesMore:
        before, after = (sum(c.survey.error_frames for c in side) for side in (self._before, self._after))
        seconds = [sum(c.survey.awake_seconds for c in side) for side in (self._before, self._after)]
        return ErrorFramesMore(self._network, before, seconds[0], after, seconds[1])

    @staticmethod
    def _likely(found: ErrorFramesMore) -> float:
        """As many as the rate before makes likely."""
        return found.before * found.after_s / found.before_s if found.before_s else 0.0

    def _is_more(self, found: ErrorFramesMore, few: int = FEW_ERRORS) -> bool:
        likely = self._likely(found)
        return found.after > likely + DEVIATIONS * math.sqrt(likely) + few

    # -- falling asleep

    @property
    def sleeps(self) -> tuple[float, float] | None:
        """Longest time to sleep before and after."""
        known = [[sleep.asleep_s for sleep in side if sleep.asleep_s is not None] for side in self._sleeps]
        return (max(known[0]), max(known[1])) if all(known) else None

    def _sleep(self) -> Iterator[SleepLater]:
        late = []
        longest = {ran: self._longest_sleep(ran) for ran in (None, False, True)}
        for after in self._sleeps[1]:
            before = longest[after.engine_ran]
            lasted = after.waited_s if after.asleep_s is None else after.asleep_s
            if before is not None and lasted > LATER * before + LATER_S:
                late.append(SleepLater(self._network, before, after.asleep_s, after.waited_s))
        if late:
            yield max(late, key=lambda one: one.waited_s if one.after_s is None else one.after_s)

    def _longest_sleep(self, ran: bool | None) -> float | None:
        """Longest time to sleep before the fitting; ran: whether the engine had run, as far as is known."""
        alike = (
            sleep.asleep_s
            for sleep in self._sleeps[0]
            if sleep.asleep_s is not None and (None in (sleep.engine_ran, ran) or sleep.engine_ran is ran)
        )
        return max(alike, default=None)

    # -- what could not be compared

    def notes(self) -> Iterator[ProveNote]:
        """What nobody can tell from these captures."""
        if self._alike() is None:
            yield LoadUncompared(self._network)
        found = self._counted_errors()
        if self._is_more(found, few=0) and not self._is_more(found):
            yield FewErrorFrames(self._network, found.after)
        fell = [any(sleep.asleep_s is not None for sleep in side) for side in self._sleeps]
        if fell[0] and not fell[1] and not list(self._sleep()):
            yield SleepUncompared(self._network, is_after=False)
        elif fell[1] and not fell[0]:
            yield SleepUncompared(self._network, is_after=True)


def _filled(
    channels: Sequence[ChannelMeasured], rates: LoadRates, planned: Collection[FrameId]
) -> list[_Filled]:
    """By state of terminal 15 and engine, whether the vehicle moved or not."""
    sums: dict[VehicleState, list[float]] = {}
    for channel in channels:
        for state in channel.states:
            key = VehicleState(state.state.terminal_15, state.state.engine)
            total = sums.setdefault(key, [0.0, 0.0, 0.0])
            total[0] += _busy_s(state.load, rates)
            total[1] += sum(_taken_s(state.messages[one], rates) for one in planned if one in state.messages)
            total[2] += state.awake_s
    return [
        _Filled(state, busy / awake_s, added / awake_s, awake_s)
        for state, (busy, added, awake_s) in sums.items()
        if awake_s
    ]


def _busy_s(load: ChannelLoad, rates: LoadRates) -> float:
    return load.shares(rates, 1.0, 1.0).mean


def _taken_s(seen: MessageInState, rates: LoadRates) -> float:
    bits = seen.count * seen.load.bits / rates.nominal
    return bits + seen.count * seen.load.fast_bits / (rates.data or rates.nominal)


def _sleeps(channel: ChannelMeasured) -> Iterator[Sleep]:
    """Each time that terminal 15 went off while the channel was awake."""
    if not channel.has_times:
        return
    terminal = next(iter(channel.edges.of(TERMINAL_15)), None)
    engine = next(iter(channel.edges.of(ENGINE)), None)
    if terminal is None:
        return
    edges = channel.edges
    active_ns = engine.first_active_ns if engine is not None else None
    begins, lasts = np.array(channel.survey.awake_periods, np.float64).reshape(-1, 2).T
    on_again = (terminal.rising - edges.first_ns) / 1e9
    end = (edges.last_ns - edges.first_ns) / 1e9
    for turned, off in zip(
        terminal.falling.tolist(), ((terminal.falling - edges.first_ns) / 1e9).tolist(), strict=True
    ):
        later = int(np.searchsorted(on_again, off, "right"))
        until = float(on_again[later]) if later < len(on_again) else end
        ran = None if engine is None else active_ns is not None and active_ns <= turned
        awake = np.flatnonzero((begins <= off) & (off <= lasts + SILENCE_S))
        if len(awake):
            last = float(lasts[awake[0]])
            yield Sleep(max(last - off, 0.0) if last + SILENCE_S < until else None, until - off, ran)
