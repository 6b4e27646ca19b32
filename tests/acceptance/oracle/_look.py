"""Everything that is seen of one entry of a role: presence, values, rate and movement."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

from tests.acceptance.oracle import _counter, _marks
from tests.acceptance.oracle._frames import (
    gaps_of,
    is_of,
    median,
    page_is_selected,
    percentile,
    raw_of,
    within_limits,
)
from tests.acceptance.oracle._identity import Networks
from tests.acceptance.small_jobs import Entry, Frame, Job, Need


class Look:
    """What one entry's network shows of it."""

    def __init__(self, job: Job, networks: Networks, role: str, entry: Entry) -> None:
        self.role, self.entry = role, entry
        messages = [msg for msg in job.networks[entry.network] if msg.name == entry.message]
        self.msg = messages[0] if messages else None
        self.sig = self.msg.signal(entry.signal) if self.msg else None
        self.counter = self.msg.signal(entry.counter) if self.msg else None
        self.is_defined = self.sig is not None and (entry.counter is None or self.counter is not None)
        self.taps = networks.taps(entry.network)
        self.timed = [tap for tap in self.taps if tap.is_timed]
        self.is_doubtful = networks.is_doubtful(entry.network)
        if not self.is_defined:
            return
        self.frames = [f for tap in self.taps for f in tap.frames if is_of(f, self.msg)]
        self.values = [raw_of(self.sig, f.data) for f in self.frames if self.carries(f)]
        self.told = [raw for raw in self.values if raw not in entry.not_available]
        self.valid = [raw for raw in self.told if within_limits(self.sig, raw)]

    @property
    def is_carried(self) -> bool:
        return self.is_defined and bool(self.values)

    def carries(self, frame: Frame) -> bool:
        return (
            is_of(frame, self.msg)
            and raw_of(self.sig, frame.data) is not None
            and page_is_selected(self.msg, self.sig, frame.data)
        )

    def valid_value(self, frame: Frame) -> int | None:
        if not self.carries(frame):
            return None
        raw = raw_of(self.sig, frame.data)
        fits = raw not in self.entry.not_available and within_limits(self.sig, raw)
        return raw if fits else None

    def raws_of(self, state: str | int) -> set[int]:
        if isinstance(state, int):
            return {state}
        if state == "active":
            return {raw for one in self.entry.active for raw in self.raws_of(one)}
        return {raw for raw, label in self.sig.labels.items() if label == state}

    # Message, length, values.

    def is_unseen(self) -> bool:
        """Neither the message came, nor, if frames were long enough, its page."""
        return not self.frames or (not self.is_short() and not self.values)

    def should_have_come(self) -> bool:
        """Whether a mark, or the DBC's cycle time, says that what was never seen should have been."""
        if any(mark.role == self.role for tap in self.taps for mark in tap.marks):
            return True
        awake = sum(stretch[-1].time - stretch[0].time for tap in self.timed for stretch in tap.stretches)
        return 0 < 10 * self.msg.cycle_ms * 1000 <= awake

    def is_short(self) -> bool:
        return 2 * sum(raw_of(self.sig, f.data) is None for f in self.frames) > len(self.frames)

    def is_not_available(self) -> bool:
        return not self.told

    def has_values(self) -> bool:
        return bool(self.frames) and not self.is_short() and not self.is_not_available()

    def is_out_of_range(self) -> bool:
        return 100 * (len(self.told) - len(self.valid)) > len(self.told)

    # Rate.

    def carried(self) -> list[list[Frame]]:
        """The frames that carry the signal, by awake stretch of the captures with times."""
        return [[f for f in stretch if self.carries(f)] for tap in self.timed for stretch in tap.stretches]

    def is_above(self, limit_ms: str | None) -> bool:
        """Whether the gaps, ends of stretches included, are longer than 1.1 times a limit."""
        if limit_ms is None or not self.timed:
            return False
        gaps = []
        for tap in self.timed:
            for stretch in tap.stretches:
                times = [f.time for f in stretch if self.carries(f)]
                gaps += gaps_of([stretch[0].time, *times, stretch[-1].time])
        return percentile(gaps, 99) > Fraction(limit_ms) * 1100

    def changes(self) -> list[int]:
        """For each frame that brought another valid value: the gap to the carrying frame before."""
        found = []
        for frames in self.carried():
            for before, after in pairwise(frames):
                one, other = self.valid_value(before), self.valid_value(after)
                if None not in (one, other) and one != other:
                    found.append(after.time - before.time)
        return found

    def is_sent_at_changes(self) -> bool:
        carried, changes = self.carried(), self.changes()
        gaps = [gap for frames in carried for gap in gaps_of([f.time for f in frames])]
        if not gaps:
            return False
        soon = sum(gap < median(gaps) * 9 / 10 for gap in changes)
        if len(changes) >= 4 and 10 * soon >= 7 * len(changes):
            return True
        uneven = percentile(gaps, 90) > 2 * percentile(gaps, 10)
        count = sum(map(len, carried))
        return bool(self.entry.active) and 10 * len(changes) >= 9 * count and uneven

    def is_too_slow(self, need: Need) -> bool:
        if self.is_above(need.max_gap_ms):
            return True
        return self.is_late(need) and len(self.changes()) >= 4

    def is_late(self, need: Need) -> bool:
        """Whether a change may reach the part too late, as far as can be told."""
        return self.is_above(need.max_delay_ms) and not self.is_sent_at_changes()

    def lacks_time(self, need: Need) -> bool:
        if self.timed or need.evidence == "defined":
            return False
        return need.evidence == "answers" or need.max_gap_ms is not None or need.max_delay_ms is not None

    # Counter, movement, marks.

    def counter_runs(self) -> list[list[int]]:
        """What the counter says, frame by frame, for each awake stretch."""
        if self.counter is None:
            return []
        return [
            [
                count
                for f in stretch
                if is_of(f, self.msg)
                and page_is_selected(self.msg, self.counter, f.data)
                and (count := raw_of(self.counter, f.data)) is not None
            ]
            for tap in self.taps
            for stretch in tap.stretches
        ]

    def counter_says(self) -> str:
        return _counter.says(self.counter, self.counter_runs()) if self.counter else "ok"

    def moves(self) -> bool:
        if self.entry.active:
            active = self.raws_of("active")
            return len({raw in active for raw in self.valid}) == 2
        return len(set(self.valid)) > 1

    def answers(self) -> list[str]:
        """For each mark: answered, partly or none."""
        return _marks.answers(self)

    def moves_unasked(self) -> bool:
        return any(_marks.moves_unasked(self, tap) for tap in self.timed)

    def is_beyond_doubt(self) -> bool:
        answers = self.answers()
        return self.moves() and len(answers) >= 2 and set(answers) == {"answered"}

    def evidence(self, need: Need) -> str:
        """How well it is shown; "?" where the rules do not say."""
        if not self.is_defined:
            return "none"
        if not self.taps or not self.has_values() or self.is_out_of_range() or self.is_too_slow(need):
            return "defined"
        is_timeless = not self.timed and (need.max_gap_ms, need.max_delay_ms) != (None, None)
        if self.is_doubtful or self.lacks_time(need) or self.is_late(need) or is_timeless:
            return "?"
        if not self.moves():
            return "present"  # also where every mark is answered: what never moved shows nothing
        answers = self.answers()
        return "answers" if set(answers) == {"answered"} and not self.moves_unasked() else "moves"
