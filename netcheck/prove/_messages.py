"""The messages of one network before and after: gone, new, or different in any way.

Two recordings are compared where the vehicle was in the same state, as far as the captures tell: many a
message comes only with terminal 15 on, or faster with the engine running.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from functools import cached_property
from typing import Final

from netcheck.network import FrameId, SurveyedMessage
from netcheck.prove._change_model import (
    ChecksumFailing,
    CounterFailing,
    LengthChanged,
    MessageChange,
    MessageGone,
    MessageNew,
    PeriodChanged,
    ProvenMessage,
    SignalStuck,
    VehicleState,
)
from netcheck.prove._measure import SURE, ChannelMeasured, MessageInState, StateSeen, joined_payloads
from netcheck.prove._note_model import (
    ChecksumsUncompared,
    NotAwaited,
    PeriodsUncompared,
    ProveNote,
    SeldomGone,
    SeldomNew,
    StayedAway,
)
from netcheck.prove._payloads import PayloadSeen, PayloadTarget, SignalSeen
from netcheck.records import dataclass

LEAST_COUNT: Final = 5  # a message that was seen less often may just have been seldom
WAITED: Final = 5  # periods that a message is waited for
LEAST_STEPS: Final = 20  # of a counter, and frames with a checksum
FAILING: Final = 0.01  # share of steps or frames that are wrong
OTHER_LENGTHS: Final = 0.01  # share of frames of a length that never came before
CLOCKS: Final = 0.01  # of a period: what the clocks of two recorders and of a module may differ by
STAMPS_MS: Final = 0.5  # how far a recorder's stamps may be off
LEAST_WINDOWS: Final = 3  # stretches of ten seconds before, in which a signal moved
MANY_WINDOWS: Final = 4  # with fewer, it has to move more often than a person operates something
TURNS: Final = 3  # in a window, on average
LEAST_AFTER: Final = 2  # such stretches after


@dataclass(frozen=True)
class PlannedIds:
    """Ids of a network that the job changes: those that it adds, and those that go away."""

    new: Collection[FrameId] = ()
    gone: Collection[FrameId] = ()

    def touches(self, frame_id: FrameId) -> bool:
        """Whether the job changes who sends this id."""
        return frame_id in self.new or frame_id in self.gone


@dataclass(frozen=True)
class _OnSide:
    """One id on the channels of one side. surveyed: where it came most often."""

    surveyed: SurveyedMessage
    count: int
    lengths: Mapping[int, int]
    states: tuple[tuple[StateSeen, MessageInState], ...]

    @property
    def is_cyclic(self) -> bool:
        """Whether it comes by the clock, in the whole capture or in a state."""
        return bool(self.surveyed.timing.cyclic) or any(seen.timing.cyclic for _, seen in self.states)

    @property
    def period_ms(self) -> float:
        """How often it comes."""
        steady = [seen for _, seen in self.states if seen.timing.cyclic and seen.timing.period]
        if steady:
            return max(steady, key=lambda seen: seen.count).timing.period or 0.0
        return self.surveyed.timing.period or 0.0

    @property
    def is_at_changes(self) -> bool:
        """Whether it is sent at changes, too, so that it keeps no period."""
        return self.surveyed.timing.at_changes


class NetworkMessages:
    """Two sides of one network, and what is different."""

    def __init__(
        self,
        network: str,
        before: Sequence[ChannelMeasured],
        after: Sequence[ChannelMeasured],
        planned: PlannedIds,
        *,
        targets: Mapping[FrameId, PayloadTarget],
        uncounted: Collection[FrameId],
    ) -> None:
        """uncounted: ids of diagnostics."""
        self._network = network
        self._channels = before, after
        self._planned = planned
        self._targets = targets
        self.before = _by_id(before, uncounted)
        self.after = _by_id(after, uncounted)
        self._payloads = joined_payloads(before), joined_payloads(after)
        self._names = {
            frame_id: message.name
            for channel in (*before, *after)
            for frame_id, message in channel.known.items()
        }

    @property
    def has_times(self) -> bool:
        """Whether both sides have time stamps."""
        return all(any(channel.has_times for channel in side) for side in self._channels)

    def named(self, frame_id: FrameId) -> ProvenMessage:
        """The id as a report names it."""
        return ProvenMessage(self._network, frame_id, self._names.get(frame_id, ""))

    def compared(self) -> tuple[FrameId, ...]:
        """Cyclic messages from before, which are looked for after."""
        return tuple(frame_id for frame_id, seen in self.before.items() if self._is_lasting(seen))

    def unawaited(self) -> tuple[FrameId, ...]:
        """Those of them that did not come, and that nobody waited for long enough."""
        gone = {change.message.frame_id for change in self.changes if isinstance(change, MessageGone)}
        return tuple(one for one in self.compared() if one not in self.after and one not in gone)

    @staticmethod
    def _is_lasting(seen: _OnSide) -> bool:
        return seen.is_cyclic and seen.count >= LEAST_COUNT

    @cached_property
    def changes(self) -> tuple[MessageChange, ...]:
        """All that is different, by id."""
        return tuple(self._changes())

    def _changes(self) -> Iterator[MessageChange]:
        if self.has_times:
            yield from self._gone()
            yield from self._new()
        for frame_id in self._on_both():
            yield from self._lengths(frame_id)
            if self.has_times:
                yield from self._period(frame_id)
            yield from self._counter(frame_id)
            yield from self._checksum(frame_id)
            if self.has_times:
                yield from self._stuck(frame_id)

    def _on_both(self) -> list[FrameId]:
        return [frame_id for frame_id in self.before if frame_id in self.after]

    # -- gone and new

    def _gone(self) -> Iterator[MessageGone]:
        for frame_id in self.compared():
            waited = self._waited(self.before[frame_id], self._channels[1])
            if frame_id not in self.after and self._is_enough(self.before[frame_id], waited):
                seen = self.before[frame_id]
                yield MessageGone(
                    self.named(frame_id),
                    seen.period_ms,
                    waited,
                    seen.surveyed.senders,
                    is_planned=frame_id in self._planned.gone,
                )

    def _new(self) -> Iterator[MessageNew]:
        for frame_id, seen in self.after.items():
            if frame_id in self.before or not self._is_lasting(seen):
                continue
            if self._is_enough(seen, self._waited(seen, self._channels[0])):
                is_planned = frame_id in self._planned.new
                yield MessageNew(self.named(frame_id), seen.period_ms, seen.count, is_planned=is_planned)

    @staticmethod
    def _is_enough(seen: _OnSide, waited_s: float) -> bool:
        return waited_s >= 1.0 and waited_s * 1000 >= WAITED * seen.period_ms

    def _waited(self, seen: _OnSide, others: Sequence[ChannelMeasured]) -> float:
        """How long the other side was awake in a state in which the message comes, s."""
        coming = [state.state for state, here in seen.states if here.timing.cyclic]
        coming = coming or [state.state for state, _ in seen.states]
        return sum(
            there.awake_s
            for channel in others
            for there in channel.states
            if any(there.state.is_like(state) for state in coming)
        )

    # -- what came on both sides

    def _lengths(self, frame_id: FrameId) -> Iterator[LengthChanged]:
        before, after = self.before[frame_id], self.after[frame_id]
        if before.count < LEAST_COUNT or after.count < LEAST_COUNT:
            return
        usual = max(after.lengths, key=lambda length: (after.lengths[length], length))
        strange = sum(count for length, count in after.lengths.items() if length not in before.lengths)
        is_fixed = len(before.lengths) == 1
        if usual in before.lengths and not (is_fixed and strange > OTHER_LENGTHS * after.count):
            return
        lengths = [tuple(sorted(side.lengths.items())) for side in (before, after)]
        is_planned = self._planned.touches(frame_id)
        yield LengthChanged(self.named(frame_id), lengths[0], lengths[1], is_planned=is_planned)

    def _period(self, frame_id: FrameId) -> Iterator[PeriodChanged]:
        pair = self._alike(frame_id)
        if pair is None:
            return
        before, after = pair
        jitter, period = before.timing.jitter, before.timing.period
        now, mean = after.timing.period, (after.gaps.mean_ns or 0) / 1e6
        if jitter is None or not period or not now:
            return
        allowed = max((jitter[1] - jitter[0]) / 2, CLOCKS * period, STAMPS_MS)
        low, high = jitter[0] - allowed, jitter[1] + allowed
        is_missing = mean > high >= (before.gaps.mean_ns or 0) / 1e6
        if low <= now <= high and not is_missing:
            return
        is_planned = self._planned.touches(frame_id)
        yield PeriodChanged(self.named(frame_id), period, jitter, now, mean, is_planned=is_planned)

    def paused(self) -> list[FrameId]:
        """Messages that stayed away for a while, of which nothing else is said."""
        said = {change.message.frame_id for change in self.changes}
        return [each for each in self._on_both() if each not in said and self._stayed_away(each)]

    def _stayed_away(self, frame_id: FrameId) -> bool:
        """Whether a message that comes by the clock stayed away for a while, which it never did before.

        With terminal 15 off modules fall asleep one by one, so that says nothing.
        """
        return any(
            one.timing.cyclic and other.timing.has_paused and not one.timing.has_paused
            for state, one in self.before[frame_id].states
            for there, other in self.after[frame_id].states
            if state.state.is_like(there.state, with_moving=True)
            and False not in (state.state.terminal_15, there.state.terminal_15)
        )

    def _alike(self, frame_id: FrameId) -> tuple[MessageInState, MessageInState] | None:
        """The message in the state that was recorded longest on both sides; None without one."""
        if self.before[frame_id].is_at_changes or self.after[frame_id].is_at_changes:
            return None
        pairs = [
            (one, other)
            for state, one in self.before[frame_id].states
            for there, other in self.after[frame_id].states
            if state.state.is_like(there.state, with_moving=True)
            and one.timing.cyclic
            and other.timing.cyclic is not None
        ]
        return max(pairs, key=lambda pair: min(pair[0].count, pair[1].count), default=None)

    def _counter(self, frame_id: FrameId) -> Iterator[CounterFailing]:
        target, seen = self._targets.get(frame_id), self._payloads[1].get(frame_id)
        if target is None or target.counter is None or seen is None or seen.steps < LEAST_STEPS:
            return
        if not _has_failed(seen.wrong + seen.standing, seen.steps):
            return
        counter = target.counter
        yield CounterFailing(
            self.named(frame_id), counter.bit, counter.width, seen.steps, seen.wrong, seen.standing
        )

    def _checksum(self, frame_id: FrameId) -> Iterator[ChecksumFailing]:
        target = self._targets.get(frame_id)
        before, after = (payloads.get(frame_id) for payloads in self._payloads)
        if target is None or target.checksum is None or before is None or after is None:
            return
        frames = int(after.residues[0].sum())
        wrong = min(_unlike(before, after), default=0)
        if frames >= LEAST_STEPS and _has_failed(wrong, frames):
            yield ChecksumFailing(self.named(frame_id), target.checksum.byte, frames, wrong)

    def _stuck(self, frame_id: FrameId) -> Iterator[SignalStuck]:
        before, after = (payloads.get(frame_id, PayloadSeen()) for payloads in self._payloads)
        for name, seen in before.signals.items():
            now = after.signals.get(name)
            if now is None or now.has_moved or now.frames < LEAST_COUNT:
                continue
            windows = _moving_windows(seen, now)
            if windows:
                awake_s = sum(state.awake_s for state, _ in self.after[frame_id].states)
                yield SignalStuck(self.named(frame_id), name, windows, awake_s, now.low)

    # -- what could not be compared

    def notes(self) -> Iterator[ProveNote]:
        """What nobody can tell from these captures."""
        if not self.has_times:
            return
        lasting = set(self.compared())
        gone = [frame_id for frame_id in self.before if frame_id not in self.after]
        new = [frame_id for frame_id in self.after if frame_id not in self.before]
        said = {change.message.frame_id for change in self.changes}
        yield from self._note(StayedAway, self.paused())
        yield from self._note(SeldomGone, [frame_id for frame_id in gone if frame_id not in lasting])
        yield from self._note(NotAwaited, self.unawaited())
        yield from self._note(SeldomNew, [frame_id for frame_id in new if frame_id not in said])
        both = [frame_id for frame_id in self._on_both() if frame_id in lasting]
        yield from self._note(
            PeriodsUncompared, [frame_id for frame_id in both if self._keeps_none(frame_id)]
        )
        yield from self._note(
            ChecksumsUncompared, [frame_id for frame_id in both if self._is_unsure(frame_id)]
        )

    def _note(
        self,
        kind: type[
            StayedAway | SeldomGone | NotAwaited | SeldomNew | PeriodsUncompared | ChecksumsUncompared
        ],
        ids: Sequence[FrameId],
    ) -> Iterator[ProveNote]:
        if ids:
            yield kind(self._network, tuple(self.named(frame_id) for frame_id in ids))

    def _keeps_none(self, frame_id: FrameId) -> bool:
        at_changes = self.before[frame_id].is_at_changes or self.after[frame_id].is_at_changes
        return not at_changes and self._alike(frame_id) is None

    def _is_unsure(self, frame_id: FrameId) -> bool:
        target, seen = self._targets.get(frame_id), self._payloads[1].get(frame_id)
        if target is None or seen is None:
            return False
        has_few_steps = target.counter is not None and seen.steps < LEAST_STEPS
        return has_few_steps or (target.checksum is not None and int(seen.residues[0].sum()) < LEAST_STEPS)


def _by_id(channels: Sequence[ChannelMeasured], uncounted: Collection[FrameId]) -> dict[FrameId, _OnSide]:
    found: dict[FrameId, list[tuple[ChannelMeasured, SurveyedMessage]]] = {}
    for channel in channels:
        for message in channel.survey.messages:
            if message.frame_id not in uncounted:
                found.setdefault(message.frame_id, []).append((channel, message))
    sides = {}
    for frame_id, entries in sorted(found.items(), key=lambda entry: (entry[0].is_extended, entry[0].can_id)):
        lengths: dict[int, int] = {}
        for _, message in entries:
            for length, count in message.lengths.items():
                lengths[length] = lengths.get(length, 0) + count
        sides[frame_id] = _OnSide(
            max((message for _, message in entries), key=lambda message: message.count),
            sum(message.count for _, message in entries),
            lengths,
            tuple(
                (state, state.messages[frame_id])
                for channel, _ in entries
                for state in channel.states
                if frame_id in state.messages
            ),
        )
    return sides


def _unlike(before: PayloadSeen, after: PayloadSeen) -> Iterator[int]:
    """Frames after with a wrong checksum, by each kind that fitted before.

    Where little but a counter changes, several kinds fit, and which one it is shows only later.
    """
    for then, now in zip(before.residues.tolist(), after.residues.tolist(), strict=True):
        right = max(range(len(then)), key=then.__getitem__)
        if then[right] >= SURE * sum(then):
            yield sum(now) - now[right]


def _has_failed(wrong: int, of: int) -> bool:
    return wrong > FAILING * of


def _moving_windows(before: SignalSeen, after: SignalSeen) -> int:
    """Stretches of ten seconds before, in all of which it moved: 0 where it may just not have been operated.

    Either all that was recorded before, or what was recorded in the states of after, if it moved there more
    often than a person operates something in a few tens of seconds.
    """

    def in_both(states: Collection[VehicleState], others: Collection[VehicleState]) -> list[VehicleState]:
        return [one for one in states if any(one.is_like(other, with_moving=True) for other in others)]

    here, there = in_both(before.windows, after.windows), in_both(after.windows, before.windows)
    if sum(after.windows[state] for state in there) < LEAST_AFTER:
        return 0
    windows = sum(before.windows.values())
    if windows >= MANY_WINDOWS and windows == sum(before.moved.values()):
        return windows
    alike = sum(before.windows[state] for state in here)
    is_restless = before.turns >= TURNS * windows
    has_moved = alike >= LEAST_WINDOWS and alike == sum(before.moved[state] for state in here)
    return alike if is_restless and has_moved else 0
