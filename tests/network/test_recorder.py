"""The recorder's traces: traffic is made, then spoilt as a recorder or a vehicle does; the truth is known."""

from __future__ import annotations

import random
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.network import RemarkKind, Stalled
from tests.network.logs import Line, channel_of

KINDS_OF_LOSS = {RemarkKind.FRAMES_MISSING, RemarkKind.COUNTER_JUMPS}
IDS = (0x100, 0x101, 0x102, 0x103)


def sent(
    ids: tuple[int, ...] = IDS, seconds: float = 10, every: int = 10, modulo: int = 16
) -> list[tuple[float, Line]]:
    """Cyclic messages with a counter in the low half of byte 0, each with the time it was sent at."""
    noise = random.Random(3)
    frames = []
    for n in range(int(seconds * 1000 / every)):
        for k, can_id in enumerate(ids):
            at = every * n + 0.3 * k
            data = bytes([noise.randrange(16) << 4 | n % modulo, noise.randrange(256)])
            frames.append((at, Line(at, can_id, data)))
    return frames


def kinds(channel) -> set[RemarkKind]:
    return {remark.kind for remark in channel.remarks}


def survey(tmp_path, frames: list[tuple[float, Line]], when: Callable[[float], float | None] = float):
    """when: the time that the recorder writes for a frame, None for one that it loses."""
    lines = [line._replace(ms=at) for sent_at, line in frames if (at := when(sent_at)) is not None]
    return channel_of(tmp_path, lines)


def remark_of(channel, kind: RemarkKind):
    return next(remark for remark in channel.remarks if remark.kind is kind)


def test_a_whole_recording_shows_nothing(tmp_path):
    channel = survey(tmp_path, sent())
    assert channel.remarks == ()
    assert channel.recorder.counting == 4
    assert channel.recorder.skipping == ()


def test_frames_of_all_ids_lost_at_once_are_the_recorders(tmp_path):
    """Five times, 30 ms of everything."""
    holes = [(1000 * n, 1000 * n + 30) for n in (2, 3, 5, 7, 8)]
    channel = survey(
        tmp_path, sent(), lambda at: None if any(begin <= at < end for begin, end in holes) else at
    )
    assert kinds(channel) == {RemarkKind.FRAMES_MISSING}
    remark = remark_of(channel, RemarkKind.FRAMES_MISSING)
    assert [str(message) for message in remark.messages] == [f"0x{can_id}" for can_id in range(100, 104)]
    assert (remark.missing, remark.moments, remark.is_shared) == (4 * 3 * 5, 5, True)


def test_one_id_of_which_half_is_missing_is_not_the_recorders(tmp_path):
    """Its counter goes wrong at half of its steps, and its times have room for what is missing."""
    drop = random.Random(5)
    frames = [frame for frame in sent(seconds=20) if frame[1].can_id != 0x102 or drop.random() < 0.5]
    channel = survey(tmp_path, frames)
    assert kinds(channel) & KINDS_OF_LOSS == {RemarkKind.FRAMES_MISSING}
    remark = remark_of(channel, RemarkKind.FRAMES_MISSING)
    assert [str(message) for message in remark.messages] == ["0x102"]
    assert remark.share == pytest.approx(0.5, abs=0.05)
    assert (remark.is_shared, remark.complete) == (False, 3)


def test_a_counter_that_skips_without_time_for_it_is_no_lost_frame(tmp_path):
    frames = [
        (at, line._replace(data=bytes([line.data[0] & 0xF0 | (n // 4 + n // 200) % 16, line.data[1]])))
        for n, (at, line) in enumerate(sent())
    ]
    channel = survey(tmp_path, frames)
    assert kinds(channel) & KINDS_OF_LOSS == {RemarkKind.COUNTER_JUMPS}


def test_two_senders_of_one_id_are_no_lost_frames(tmp_path):
    """Each counts by itself, and one began later."""
    frames = sent()
    second = [
        (at + 5, line._replace(ms=at + 5)) for at, line in sent() if line.can_id == 0x100 and at >= 4030
    ]
    channel = survey(tmp_path, sorted(frames + second))
    assert RemarkKind.FRAMES_MISSING not in kinds(channel)


@pytest.mark.parametrize("modulo", [15, 16])
def test_where_a_counter_begins_again_no_frame_is_missing(tmp_path, modulo):
    assert survey(tmp_path, sent(modulo=modulo)).recorder.skipping == ()


@given(st.sets(st.integers(20, 580), max_size=60), st.sampled_from([5, 10, 37]), st.sampled_from([None, 900]))
def test_as_many_are_missing_as_were_dropped(tmp_path_factory, dropped, every, chunk_bytes):
    frames = sent((0x100, 0x2AB), seconds=600 * every / 1000, every=every)
    lines = [line for at, line in frames if line.can_id == 0x100 or round(at / every) not in dropped]
    traces = channel_of(tmp_path_factory.mktemp("log"), lines, None, chunk_bytes).recorder
    missing = {entry.frame_id.can_id: entry.missing for entry in traces.skipping}
    assert missing == ({0x2AB: len(dropped)} if dropped else {})


# Stalls ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("when", "kind", "is_late"),
    [
        (lambda at: 5140 + (at - 5000) / 200 if 5000 <= at < 5140 else at, RemarkKind.RECORDER_STALLED, True),
        (lambda at: None if 5000 <= at < 5140 else at, RemarkKind.RECORDER_STALLED, False),
        (lambda at: at if at < 5000 else at + 140, RemarkKind.BUS_STOPPED, False),
    ],
    ids=["handed over late", "lost", "nobody sent"],
)
def test_all_ids_stalled_together(tmp_path, when, kind, is_late):
    channel = survey(tmp_path, sent(), when)
    assert {remark.kind for remark in channel.remarks if isinstance(remark, Stalled)} == {kind}
    remark = remark_of(channel, kind)
    assert (remark.times, remark.is_late, remark.counters) == (1, is_late, 4)
    assert remark.longest_ms == pytest.approx(150, abs=12)


def test_where_no_message_has_a_counter_it_is_open_who_stalled(tmp_path):
    frames = [(at, line._replace(data=b"\1")) for at, line in sent()]
    channel = survey(tmp_path, frames, lambda at: None if 5000 <= at < 5140 else at)
    assert remark_of(channel, RemarkKind.BUS_STOPPED).counters == 0


def test_one_id_that_goes_on_is_no_stall(tmp_path):
    frames = [(at, line) for at, line in sent() if not 5000 <= at < 5140 or line.can_id == 0x103]
    assert survey(tmp_path, frames).recorder.stalls == 0


def test_messages_that_are_all_slow_do_not_stall(tmp_path):
    assert survey(tmp_path, sent(every=140, seconds=60)).recorder.stalls == 0


# Batches ---------------------------------------------------------------------------------------------


def test_frames_handed_over_in_batches(tmp_path):
    """Every 20 ms all that came since, with one stamp."""
    channel = survey(tmp_path, sent(), lambda at: 20 * (at // 20 + 1))
    assert kinds(channel) == {RemarkKind.STAMPS_BATCHED}
    remark = channel.remarks[0]
    assert remark.share == pytest.approx(7 / 8, abs=0.01)
    assert remark.batch_ms == pytest.approx(20, abs=0.1)


@pytest.mark.parametrize(("apart_us", "batched"), [(20, True), (30, False)])
def test_stamps_nearer_than_the_shortest_frame_are_batches(tmp_path, apart_us, batched):
    frames = [(at - 0.3 * (line.can_id - 0x100), line) for at, line in sent()]
    place = iter(range(10**6))
    channel = survey(tmp_path, frames, lambda at: at + next(place) % 4 * apart_us / 1000)
    assert channel.recorder.is_batched is batched


# Periods that the recorder hides ----------------------------------------------------------------------


def test_a_message_faster_than_the_batches_is_not_called_one_on_event(tmp_path):
    """Every 10 ms, in batches of 20 ms: its gaps are 0 and 20 ms. What comes every few seconds is seen."""
    events = [(at, Line(at, 0x200, bytes([at % 7]))) for at in (130, 700, 2900, 3300, 5100, 9000, 9200)]
    channel = survey(tmp_path, sorted(sent() + events), lambda at: 20 * (at // 20 + 1))
    timings = {message.frame_id.can_id: message.timing for message in channel.messages}
    assert {(timings[can_id].cyclic, timings[can_id].period) for can_id in IDS} == {(None, None)}
    assert timings[0x200].cyclic is False
    slow = survey(tmp_path, sent(every=100, seconds=30), lambda at: 20 * (at // 20 + 1))
    assert {message.timing.cyclic for message in slow.messages} == {True}


def test_a_message_of_which_frames_are_missing_is_not_called_one_on_event(tmp_path):
    drop = random.Random(5)
    frames = [frame for frame in sent(seconds=20) if frame[1].can_id != 0x102 or drop.random() < 0.5]
    timings = {message.frame_id.can_id: message.timing for message in survey(tmp_path, frames).messages}
    assert (timings[0x102].cyclic, timings[0x102].period) == (None, None)
    assert (timings[0x101].cyclic, timings[0x101].period) == (True, 10)
