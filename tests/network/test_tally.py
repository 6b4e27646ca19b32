"""Frames placed chunk by chunk, against a plain walk over all of them."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from netcheck.capture import ERROR, EXTENDED, NON_DATA, REMOTE, Capture
from netcheck.network import FrameId, FrameTally, TrafficTally
from tests.captures import Frame, hand_made
from tests.naive import naive_placed

SECOND = 1_000_000_000


def rows(capture: Capture, begin: int, end: int) -> Capture:
    columns = ("time_ns", "can_id", "flags", "channel", "length", "start")
    cut = {name: getattr(capture, name)[begin:end] for name in columns}
    return Capture(file=capture.file, channels=capture.channels, data=capture.data, **cut)


@st.composite
def captures(draw: st.DrawFn) -> Capture:
    time_ns, frames = 1_600_000_000 * SECOND, []
    for _ in range(draw(st.integers(1, 60))):
        time_ns += draw(st.sampled_from([0, 10, 999, 1000, 1001, 5000, -20, -1001])) * 1_000_000
        frames.append(
            Frame(
                can_id=draw(st.sampled_from([0, 0x123, 0x7FF])),
                data=bytes(draw(st.sampled_from([0, 1, 8]))),
                flags=draw(st.sampled_from([0, 0, EXTENDED, REMOTE, ERROR])),
                time_ns=time_ns,
                channel=draw(st.sampled_from(["can0", "can1", "can2"])),
            )
        )
    return hand_made(frames)


@given(captures(), st.integers(1, 61))
def test_chunks_are_placed_as_a_plain_walk_places_them(capture: Capture, size: int) -> None:
    tally = FrameTally(ratios=frozenset(), shards=4)
    placed, breaks = [], []
    for at in range(0, len(capture), size):
        tally.add(rows(capture, at, at + size))
        chunk = tally.placed
        entries = tally.entries()
        own = (chunk.entry.tolist(), chunk.awake.tolist(), chunk.gap[: len(chunk.entry)].tolist())
        for entry, *rest in zip(*own, strict=True):
            columns = (entries.channel, entries.is_extended, entries.can_id, entries.length)
            placed.append(None if entry < 0 else (*(int(column[entry]) for column in columns), *rest))
        breaks += [tuple(row) for row in chunk.breaks.tolist()]
    columns = (capture.time_ns, capture.channel, capture.can_id, capture.is_extended, capture.length)
    non_data = (capture.flags & NON_DATA) != 0
    expected = naive_placed(
        list(zip(*(column.tolist() for column in columns), non_data.tolist(), strict=True))
    )
    assert (placed, breaks) == expected
    for number in range(len(capture.channels)):
        own = capture.channel == number
        data = own & ~non_data
        alone = TrafficTally()
        alone.add_times(capture.time_ns[own])
        alone.add_frames(capture.can_id[data], capture.is_extended[data], capture.length[data])
        assert tally.traffic(number) == alone.result()
        times = capture.time_ns[data]
        heard = (int(times[0]), int(times[-1])) if len(times) else None
        assert tally.heard_ns().get(number) == heard


def test_more_ids_than_the_table_begins_with():
    ids = [*range(0x800), *(0x10000 * number for number in range(1, 0x1800))]
    frames = [Frame(can_id, b"", EXTENDED if can_id > 0x7FF else 0) for can_id in ids * 2]
    capture = hand_made(frames)
    tally = FrameTally()
    entries = []
    for at in range(0, len(capture), 3000):
        tally.add(rows(capture, at, at + 3000))
        entries.append(tally.placed.entry.copy())
    assert np.concatenate(entries).tolist() == list(range(len(ids))) * 2
    assert tally.entries().can_id.tolist() == ids
    lengths = tally.traffic(0).lengths
    assert len(lengths) == len(ids)
    assert lengths[FrameId(0x17FF0000, True)] == {0: 2}
    assert [len(column) for column in tally.entries(len(ids) - 2)] == [2] * 5
