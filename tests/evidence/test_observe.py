"""What one pass over chunks counts equals what a plain walk over the frames counts."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from netcheck.capture import ERROR, REMOTE, Capture
from netcheck.database import Message, MuxPage, Signal
from netcheck.evidence import Window, observe, window
from netcheck.files import Mark
from netcheck.roles import Watch
from tests.captures import Frame, hand_made

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

    @property
    def channels(self) -> tuple[str, ...]:
        return self.whole.channels

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
        found.append(Window(str(number), str(number), start, start + wide, raw, None, raw == (1,)))
    return tuple(found)


def looked_at(
    capture: Capture, channel: str, marks: tuple[Window, ...]
) -> tuple[dict[str, int], list[int], list[int], dict[str, list[int]]]:
    """The same by a plain walk over the frames of one channel."""
    frames = [
        index
        for index in range(len(capture))
        if capture.channels[capture.channel[index]] == channel
        and not capture.is_remote[index]
        and not capture.is_error[index]
    ]
    start = int(capture.time_ns[0])
    gaps, raws = [], []
    counts = dict.fromkeys(
        ("frames", "too_short", "carried", "unavailable", "out_of_range", "valid", "active", "inactive",
         "steps", "still", "jumps", "outside"), 0
    )  # fmt: skip
    answered = {mark.key: [0, 0] for mark in marks}
    end = int(capture.time_ns.max()) - start
    last_point = last_frame = last_turn = None
    for index in frames:
        now = int(capture.time_ns[index])
        if last_frame is None:
            last_point = now
        elif abs(now - last_frame) > SECOND:
            gaps.append(max(last_frame - last_point, 0))
            last_point, last_turn = now, None
        last_frame = now
        payload = capture.payload(index)
        if capture.can_id[index] != 0x123:
            continue
        counts["frames"] += 1
        if len(payload) < 2:
            counts["too_short"] += 1
            continue
        turn = payload[1] >> 4
        if last_turn is not None:
            counts["steps"] += 1
            counts["still"] += turn == last_turn
            counts["jumps"] += (turn - last_turn) % 15 != 1
        last_turn = turn
        if payload[0] & 3 > 1:
            continue
        counts["carried"] += 1
        gaps.append(max(now - last_point, 0))
        last_point = now
        lever = payload[1] & 15
        if lever == 15:
            counts["unavailable"] += 1
            continue
        counts["valid"] += 1
        raws.append(lever)
        counts["active" if lever == 1 else "inactive"] += 1
        at = now - start
        called = False
        for mark in marks:
            long = min(mark.to_ns, end) - mark.from_ns >= SECOND // 2
            covered = mark.from_ns - SECOND // 5 <= at <= mark.to_ns + SECOND // 2
            judged = mark.from_ns + SECOND // 2 <= at <= mark.to_ns if long else covered
            answered[mark.key][0] += judged
            answered[mark.key][1] += judged and lever in mark.raw
            called |= covered and mark.raw == (1,)
        counts["outside"] += lever == 1 and not called
    if last_frame is not None:
        gaps.append(max(last_frame - last_point, 0))
    return counts, sorted(gaps), raws, answered


@given(captures(), windows(), st.integers(1, 41))
def test_chunks_add_up_to_a_plain_walk(capture: Capture, marks: tuple[Window, ...], size: int) -> None:
    result = observe(Chunks(capture, size), [WATCH], [marks])
    for channel in result.channels:
        seen = channel.observations[0]
        counts, gaps, raws, answered = looked_at(capture, channel.name, marks)
        assert {name: getattr(seen, name) for name in counts} == counts
        assert np.repeat(seen.gaps.values, seen.gaps.counts).tolist() == gaps
        assert (seen.raw.low, seen.raw.high) == (min(raws, default=None), max(raws, default=None))
        if channel.traffic.lengths:  # a channel with nobody's frames alone is judged by nothing
            assert {mark.key: [mark.judged.valid, mark.judged.in_state] for mark in seen.marks} == answered


def test_a_window_is_made_for_the_states_a_signal_has() -> None:
    mark = Mark(role="reverse", state="R", from_=1.0, to=2.0)
    found = window(mark, "k", "R 1–2 s", WATCH)
    assert found is not None
    assert (found.raw, found.calls_active, found.from_ns, found.to_ns) == ((1,), True, SECOND, 2 * SECOND)
    assert window(Mark(role="reverse", state="N", from_=1.0, to=2.0), "k", "", WATCH) is None
    ranged = window(Mark(role="reverse", between=(0.0, 3.0), from_=1.0, to=2.0), "k", "", WATCH)
    assert ranged is not None
    assert not ranged.calls_active


def test_inactive_is_any_value_that_is_not_active_whatever_a_label_says() -> None:
    mark = Mark(role="reverse", state="inactive", from_=1.0, to=2.0)
    signal = replace(LEVER, labels={**LEVER.labels, 1: "inactive"})
    found = window(mark, "k", "inactive 1–2 s", replace(WATCH, signal=signal))
    assert found is not None
    raw = np.array([0, 1, 2, 14])
    assert found.in_state(raw, raw.astype(float)).tolist() == [True, False, True, True]
    assert not found.calls_active
    assert window(mark, "k", "", replace(WATCH, active=())) is None
