"""What one pass over chunks counts equals what a plain walk over the frames counts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from netcheck.capture import ERROR, REMOTE, Capture
from netcheck.database import Message, MuxPage, Signal
from netcheck.evidence import Window, observe, window
from netcheck.files import Mark
from netcheck.roles import Watch
from tests.captures import Frame, hand_made
from tests.naive import naive_silence

SECOND = 1_000_000_000


def field(name: str, start: int, width: int, **more: object) -> Signal:
    plain = Signal(
        name=name,
        start=start,
        width=width,
        is_big_endian=False,
        is_signed=False,
        is_float=False,
        scale=1.0,
        offset=0.0,
        minimum=None,
        maximum=None,
    )
    return replace(plain, **more)


PAGE = field("Page", 0, 2)
LEVER = field(
    "Lever",
    8,
    4,
    minimum=0.0,
    maximum=14.0,
    labels={0: "P", 1: "R"},
    pages=(MuxPage("Page", (0, 1)),),
)
TURN = field("Turn", 12, 4, minimum=0.0, maximum=14.0)
MESSAGE = Message(
    name="Selector",
    can_id=0x123,
    is_extended=False,
    is_fd=False,
    is_j1939=False,
    length=2,
    senders=(),
    cycle_time_ms=None,
    signals=(PAGE, LEVER, TURN),
    file="hand.dbc",
)
WATCH = Watch("reverse", "body", MESSAGE, LEVER, active=(1,), not_available=(15,), counter=TURN)


@dataclass
class Chunks:
    """A capture cut into chunks, as a stream."""

    whole: Capture
    size: int
    skipped: int = 0
    warnings: tuple[str, ...] = ()
    file: str = "hand.log"
    has_times: bool = True

    @property
    def channels(self) -> tuple[str, ...]:
        return self.whole.channels

    def again(self) -> Chunks:
        return self

    def reusing_buffers(self) -> Chunks:
        return self

    def __iter__(self) -> Iterator[Capture]:
        columns = ("time_ns", "can_id", "flags", "channel", "length", "start")
        for at in range(0, len(self.whole), self.size):
            rows = slice(at, at + self.size)
            cut = {name: getattr(self.whole, name)[rows] for name in columns}
            yield Capture(file=self.file, channels=self.channels, data=self.whole.data, **cut)


@st.composite
def captures(draw: st.DrawFn) -> Capture:
    steps = st.sampled_from([0, 20, 100, 999, 1000, 1001, 4000, -30, -5000])  # ms
    time_ns, frames = 1000 * SECOND, []
    for _ in range(draw(st.integers(1, 40))):
        time_ns += draw(steps) * 1_000_000
        data = bytes([draw(st.integers(0, 3)), draw(st.integers(0, 255))])[
            : draw(st.sampled_from([1, 2, 2, 2]))
        ]
        frames.append(
            Frame(
                can_id=draw(st.sampled_from([0x123, 0x123, 0x124])),
                data=data,
                flags=draw(st.sampled_from([0, 0, 0, 0, REMOTE, ERROR])),
                time_ns=time_ns,
                channel=draw(st.sampled_from(["can0", "can0", "can1"])),
            )
        )
    return hand_made(frames)


@st.composite
def windows(draw: st.DrawFn) -> tuple[Window, ...]:
    found = []
    for number in range(draw(st.integers(0, 3))):
        start = draw(st.integers(0, 40)) * SECOND // 10
        wide = draw(st.sampled_from([2, 4, 5, 20])) * SECOND // 10
        raw = draw(st.sampled_from([(1,), (0,)]))
        found.append(Window(str(number), raw[0], None, start, start + wide, raw, None, raw == (1,)))
    return tuple(found)


@dataclass
class Walked:
    """What a plain walk over the frames of one channel finds; times in ns from the capture's first frame.

    periods: awake periods, as the times of all frames in them
    values:  valid values with their time and awake period
    carried: times of the frames that carry the lever, by awake period
    """

    counts: dict[str, int]
    gaps: list[int]
    turns: list[list[int]]
    periods: list[list[int]]
    values: list[tuple[int, int, int]]
    carried: list[list[tuple[int, int | None]]]


def walked(capture: Capture, channel: str) -> Walked:
    start = int(capture.time_ns[0])
    frames = [
        (int(capture.time_ns[index]) - start, int(capture.can_id[index]), bytes(capture.payload(index)))
        for index in range(len(capture))
        if capture.channels[capture.channel[index]] == channel
        and not capture.is_remote[index]
        and not capture.is_error[index]
    ]
    counts = dict.fromkeys(
        ("frames", "too_short", "carried", "unavailable", "out_of_range", "valid", "active", "inactive"), 0
    )
    found = Walked(counts, [], [], [], [], [])
    silence = naive_silence([(now, can_id) for now, can_id, _ in frames])
    for now, can_id, payload in frames:
        if not found.periods or abs(now - found.periods[-1][-1]) > silence:
            found.periods.append([])
            found.carried.append([])
            found.turns.append([])
        found.periods[-1].append(now)
        if can_id != 0x123:
            continue
        counts["frames"] += 1
        if len(payload) < 2:
            counts["too_short"] += 1
            continue
        found.turns[-1].append(payload[1] >> 4)
        if payload[0] & 3 > 1:
            continue
        counts["carried"] += 1
        lever = payload[1] & 15
        is_valid = lever != 15
        found.carried[-1].append((now, lever if is_valid else None))
        counts["valid" if is_valid else "unavailable"] += 1
        if is_valid:
            found.values.append((now, len(found.periods) - 1, lever))
            counts["active" if lever == 1 else "inactive"] += 1
    for period, carried in zip(found.periods, found.carried, strict=True):
        points = [period[0], *(now for now, _ in carried), period[-1]]
        found.gaps += [max(after - before, 0) for before, after in pairwise(points)]
    return found


def answer(found: Walked, mark: Window, end: int) -> tuple[bool, bool]:
    """Whether a mark is answered, and whether some frame near it has the state, by the rule's text."""
    gap = usual_gap(found)
    half = SECOND // 2
    near = [
        lever in (mark.raw or ())
        for now, _, lever in found.values
        if mark.from_ns - half <= now <= mark.to_ns + half + gap
    ]
    first, last = max(mark.from_ns + half + gap, 0), min(mark.to_ns - half, end)
    latest = max((now for period in found.periods for now in period), default=0)
    if last - SECOND <= latest < last:
        last = latest
    if last - first < SECOND // 5:
        return any(near), any(near)
    if not any(period[0] <= first and last <= period[-1] for period in found.periods):
        return False, any(near)
    number = next(n for n, period in enumerate(found.periods) if period[0] <= first and last <= period[-1])
    before = [lever for now, period, lever in found.values if period == number and now <= first]
    inside = [lever for now, period, lever in found.values if period == number and first < now <= last]
    held = before[-1:] + inside
    return bool(before) and all(lever in (mark.raw or ()) for lever in held), any(near)


def usual_gap(found: Walked) -> int:
    gaps = sorted(after[0] - before[0] for carried in found.carried for before, after in pairwise(carried))
    return min(gaps[(len(gaps) + 1) // 2 - 1], 2 * SECOND) if gaps else 0


def rising(capture: Capture) -> bool:
    return bool((np.diff(capture.time_ns) >= 0).all())


@given(captures(), windows(), st.integers(1, 41))
def test_chunks_add_up_to_a_plain_walk(capture: Capture, marks: tuple[Window, ...], size: int) -> None:
    result = observe(Chunks(capture, size), [WATCH], [marks])
    end = int(capture.time_ns.max() - capture.time_ns[0])
    for channel in result.channels:
        seen, found = channel.observations[0], walked(capture, channel.name)
        assert {name: getattr(seen, name) for name in found.counts} == found.counts
        assert np.repeat(seen.gaps.values, seen.gaps.counts).tolist() == sorted(found.gaps)
        levers = [lever for _, _, lever in found.values]
        assert (seen.raw.low, seen.raw.high) == (min(levers, default=None), max(levers, default=None))
        steps = Counter((b - a) % 15 for turns in found.turns for a, b in pairwise(turns))
        assert dict(seen.counter.steps) == steps
        if not rising(capture):  # a clock that was set back: which value held is no question of the rule
            continue
        changes = sorted(
            after[0] - before[0]
            for carried in found.carried
            for before, after in pairwise(carried)
            if None not in (before[1], after[1]) and before[1] != after[1]
        )
        assert np.repeat(seen.change_gaps.values, seen.change_gaps.counts).tolist() == changes
        if channel.traffic.lengths:  # a channel with nobody's frames alone is judged by nothing
            told = [(mark.is_answered, mark.is_partly) for mark in seen.marks]
            assert told == [answer(found, mark, end) for mark in marks]
            assert seen.outside.frames == outside(found, marks)


def outside(found: Walked, marks: tuple[Window, ...]) -> int:
    """Active frames that no mark calls for."""
    reach = SECOND // 2 + usual_gap(found)
    called = [(mark.from_ns - SECOND // 2, mark.to_ns + reach) for mark in marks if mark.raw == (1,)]
    return (
        sum(
            lever == 1 and not any(first <= now <= last for first, last in called)
            for now, _, lever in found.values
        )
        if marks
        else 0
    )


def test_a_window_is_made_for_the_states_a_signal_has() -> None:
    mark = Mark(role="reverse", state="R", from_=1.0, to=2.0)
    found = window(mark, "k", WATCH)
    assert found is not None
    assert (found.raw, found.calls_active, found.from_ns, found.to_ns) == ((1,), True, SECOND, 2 * SECOND)
    assert window(Mark(role="reverse", state="N", from_=1.0, to=2.0), "k", WATCH) is None
    ranged = window(Mark(role="reverse", between=(0.0, 3.0), from_=1.0, to=2.0), "k", WATCH)
    assert ranged is not None
    assert not ranged.calls_active


def test_inactive_is_any_value_that_is_not_active_whatever_a_label_says() -> None:
    mark = Mark(role="reverse", state="inactive", from_=1.0, to=2.0)
    signal = replace(LEVER, labels={**LEVER.labels, 1: "inactive"})
    found = window(mark, "k", replace(WATCH, signal=signal))
    assert found is not None
    raw = np.array([0, 1, 2, 14])
    assert found.in_state(raw, raw.astype(float)).tolist() == [True, False, True, True]
    assert not found.calls_active
    assert window(mark, "k", replace(WATCH, active=())) is None
