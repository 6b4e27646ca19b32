"""What a survey counts and times, against a plain walk over the frames, whatever the chunk size."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.capture import open_capture
from netcheck.errors import InputError, UsageError
from netcheck.network import ByteKind, FrameId, FrameTally, SurveyPlan, survey, survey_rates
from tests.captures import Frame, hand_made
from tests.naive import naive_silence, naive_survey_gaps
from tests.network.logs import ERROR_FLAG, Line, channel_of, message_of, survey_of
from tests.network.test_identity import database, message

STEPS = st.one_of(
    st.integers(0, 30_000), st.sampled_from([0, 1, 100, 10_000, 999_999, 1_000_000, 1_000_001, 40_000_000])
)
TRAFFIC = st.lists(
    st.tuples(st.one_of(STEPS, st.sampled_from([-5, -1_500_000])), st.sampled_from([0x10, 0x20, 0x1ABCDEF0])),
    min_size=1,
    max_size=60,
)


@given(TRAFFIC, st.sampled_from([None, 60, 400]))
def test_times_are_those_of_a_plain_walk(tmp_path_factory, traffic, chunk_bytes):
    frames, now = [], 100_000_000
    for step, can_id in traffic:  # microseconds
        now += step
        frames.append((now * 1000, can_id))
    lines = [Line(time / 1e6, can_id, b"\x01") for time, can_id in frames]
    channel = channel_of(tmp_path_factory.mktemp("log"), lines, None, chunk_bytes)
    periods, gaps, longest = naive_survey_gaps(frames, naive_silence(frames))
    start = min(time for time, _ in frames)
    assert channel.awake_periods == tuple(((a - start) / 1e9, (b - start) / 1e9) for a, b in periods)
    assert [m.frame_id.can_id for m in channel.messages] == sorted(gaps)
    for entry in channel.messages:
        mine = sorted(gaps[entry.frame_id.can_id])
        timing = entry.timing
        assert entry.count == sum(can_id == entry.frame_id.can_id for _, can_id in frames)
        assert timing.longest == longest[entry.frame_id.can_id] / 1e6
        assert timing.gaps == len(mine)
        if mine:
            ranks = [mine[max(0, math.ceil(share * len(mine)) - 1)] / 1e6 for share in (0.01, 0.5, 0.99)]
            if timing.period is None:  # stamps shared by batches longer than its gaps hide it
                traces = channel.recorder
                assert traces.is_batched
                assert ranks.pop(1) < 2 * traces.batch_ms
            found = [time for time in (timing.jitter[0], timing.period, timing.jitter[1]) if time is not None]
            assert found == pytest.approx(ranks, rel=0.004, abs=0.001024)
        else:
            assert (timing.period, timing.jitter, timing.cyclic) == (None, None, None)


@pytest.mark.parametrize("order", ["falling", "rising", "any"])
def test_the_longest_time_without_a_message_over_many_awake_periods(tmp_path, order):
    rng = np.random.default_rng(5)
    lengths = rng.integers(0, 900_000, 400)  # microseconds
    lengths = {"falling": -np.sort(-lengths), "rising": np.sort(lengths), "any": lengths}[order]
    frames, now = [], 100_000_000
    for length in lengths.tolist():
        frames += [(now * 1000, 0x10), ((now + length) * 1000, 0x10)]
        if rng.random() < 0.1:
            frames.append(((now + length) * 1000, int(rng.integers(0x20, 0x28))))
        now += length + 1_200_000
    frames += [(now * 1000 + 10_000_000 * turn, 0x10) for turn in range(len(frames))]  # often: 1 s is sleep
    lines = [Line(time / 1e6, can_id, b"\x01") for time, can_id in frames]
    periods, _, longest = naive_survey_gaps(frames)
    channel = channel_of(tmp_path, lines, None, 5000)
    assert len(channel.awake_periods) == len(periods) == len(lengths) + 1
    assert {m.frame_id.can_id: m.timing.longest for m in channel.messages} == {
        can_id: gap / 1e6 for can_id, gap in longest.items()
    }


def test_gaps_are_exact_where_they_keep_coming(tmp_path):
    timing = message_of(tmp_path, [b"\0"] * 200, every=20.017).timing
    assert timing.period == pytest.approx(20.017, abs=0.001)
    assert timing.cyclic


@pytest.mark.parametrize(
    ("gaps", "cyclic"),
    [
        ([100] * 4, None),  # too few
        ([100] * 5, True),
        ([60, 140] * 20, True),
        ([2, 22] * 20, True),  # stamped in batches
        ([100, 700, 30, 260, 90, 900, 45, 310] * 5, False),
        (([20] * 9 + [900]) * 5, False),  # bursts
        ([100] * 60 + [900] * 2, True),  # frames lost now and then
    ],
)
def test_cyclic_or_on_event(tmp_path, gaps, cyclic):
    times = np.cumsum([0, *gaps])
    lines = [Line(float(time), 0x100, b"\0") for time in times]
    assert channel_of(tmp_path, lines).messages[0].timing.cyclic is cyclic


def test_kinds_of_frames_ids_and_channels_are_kept_apart(tmp_path):
    lines = [
        Line(0, 0x123, b"\1\2"),
        Line(10, 0x0000_0800, b"\1"),
        Line(20, 0x123, "R4"),
        Line(30, ERROR_FLAG | 0x8, bytes(8)),
        Line(40, 0x123, "#1" + "AB" * 12),
        Line(50, 0x123, b"\1\3", "can1"),
        Line(60, 0x123, b"\1\2"),
    ]
    found = survey_of(tmp_path, lines)
    one, two = found.channels
    assert (found.frames, one.frames, two.frames) == (7, 6, 1)
    assert (one.data_frames, one.fd_frames, one.remote_frames, one.error_frames) == (4, 1, 1, 1)
    assert [entry.frame_id for entry in one.messages] == [FrameId(0x123, False), FrameId(0x800, True)]
    assert one.messages[0].lengths == {2: 2, 12: 1}
    assert one.messages[0].fd_count == 1
    assert two.messages[0].timing.gaps == 0
    assert found.seconds == pytest.approx(0.06)


def test_bytes_are_constant_counting_or_changing(tmp_path):
    noise = np.random.default_rng(3).integers(0, 256, 64).tolist()
    found = message_of(tmp_path, [bytes([7, number % 256, noise[number]]) for number in range(64)])
    assert found.kinds == (ByteKind.CONSTANT, ByteKind.COUNTING, ByteKind.CHANGING)
    assert found.counter is None  # it was never seen to begin again


def test_growth_and_the_limit_of_ids_are_told(tmp_path):
    lines = [Line(number / 10, 0x10000 + number, b"\0") for number in range(8200)]
    channel = channel_of(tmp_path, lines, None, 20_000)
    assert len(channel.messages) == 8192
    (remark,) = [remark for remark in channel.remarks if remark.kind == "ids-beyond"]
    assert (remark.most, remark.frames) == (8192, 8)


def test_names_and_declared_values_come_from_the_network(tmp_path):
    lines = [Line(10 * n, 0x100 + n % 3, b"\0" * 8) for n in range(30)]
    known = database(message("A", 0x100), message("B", 0x101), message("C", 0x102))
    channel = channel_of(tmp_path, lines, SurveyPlan({"one": known}))
    assert channel.network == "one"
    assert [m.name for m in channel.messages] == ["A", "B", "C"]
    assert channel.messages[0].declared_length == 8


def test_bad_numbers_and_bad_captures_are_refused(tmp_path):
    with pytest.raises(UsageError, match="no bit rate"):
        survey_rates(500, None)
    with pytest.raises(UsageError, match="without --bitrate"):
        survey_rates(None, 2_000_000)
    assert survey_rates(None, None) is None
    path = tmp_path / "empty.log"
    path.write_text("")
    with pytest.raises(InputError):
        survey(open_capture(path))


def test_a_real_drive():
    """Three seconds of an open data set (MIT, licence beside it); its sums follow the maker's known rule: all
    bytes of the id, the length and the data, as opendbc's DBC files of that make have it."""
    path = Path(__file__).parent.parent / "data" / "rav4_2016_3s.log.gz"
    found = survey(open_capture(path))
    assert found.frames == 6779
    assert [channel.channel for channel in found.channels] == ["can0", "can1"]
    sums = {
        entry.frame_id.can_id: entry.checksum
        for channel in found.channels
        for entry in channel.messages
        if entry.checksum is not None and entry.checksum.kind == "sum8"
    }
    assert {0x24, 0xB4, 0x1D2, 0x210} <= set(sums)
    for can_id, checksum in sums.items():
        length = checksum.byte + 1
        assert checksum.constant == (length + (can_id >> 8) + can_id) & 0xFF
        assert checksum.share == 1.0


def test_frames_longer_than_a_bus_can_carry_touch_no_other_id() -> None:
    """A capture made in memory may say 255 bytes; the tables hold 64 of an id."""

    def seen(size: int) -> list[tuple[object, ...]]:
        frames = [Frame(can_id, bytes([turn]) * size) for turn in (1, 2) for can_id in range(128)]
        tally = FrameTally(ratios=frozenset({1.0}), is_checked=True)
        tally.add(hand_made(frames))
        return [
            (frame_id, message.count, message.book.changes[message.row].tolist())
            for frame_id, message in sorted(tally.messages(0).items())
        ]

    assert seen(255) == seen(64)


def repeats(*changes: float, base: float = 1000, until: float = 30_000, held: float = 0) -> list[Line]:
    """A message every ``base`` ms, and at changes; the timer begins anew. held: ms at which it is sent again
    while its state is 1, 0 for not."""
    lines, now, state = [], 0.0, 0
    events = [*changes, until]
    while now < until:
        lines.append(Line(now, 0x3BC, bytes([state, 0])))
        due = now + (held if state and held else base)
        if due >= events[0]:
            due, state = events.pop(0), state ^ 1
        now = due
    return lines


CHANGES = (4_300, 5_250, 9_400, 10_100, 15_600, 16_020)


@pytest.mark.parametrize("held", [0, 50])
def test_a_message_sent_at_changes_has_its_base_period(tmp_path, held):
    """Its rate while a button is pressed is not its period."""
    (seen,) = channel_of(tmp_path, repeats(*CHANGES, held=held)).messages
    assert (seen.timing.at_changes, seen.timing.period) == (True, 1000.0)


def test_what_is_no_steady_base_is_no_period(tmp_path):
    times = [0, 900, 1_750, 1_800, 3_000, 3_050, 4_800, 4_850, 7_000, 7_050, 8_200, 8_250]
    states = [0, 0, 0, 1, 1, 0, 0, 1, 1, 0, 0, 1]
    lines = [Line(time, 0x3BC, bytes([state])) for time, state in zip(times, states, strict=True)]
    beat = [Line(100 * n + 7, 0x100, b"\0") for n in range(84)]  # keeps the channel awake
    seen = channel_of(tmp_path, sorted(lines + beat)).messages[1]
    assert (seen.timing.at_changes, seen.timing.period) == (True, None)


@pytest.mark.parametrize(
    "lines",
    [
        repeats(4_300, 5_250, 9_400),  # three changes tell nothing
        [Line(100 * n, 0x3BC, bytes([n // 7 % 2])) for n in range(200)],  # changes wait for the next frame
        [Line(100 * n, 0x3BC, bytes([n % 256])) for n in range(200)],  # a counter changes each time
        [Line(100 * n + n // 30 * 9_900, 0x3BC, bytes([n % 30 // 10])) for n in range(150)],  # pauses
        [Line(20 * (n - n % 2) + 12 * (n % 2), 0x3BC, bytes([n % 4 > 0])) for n in range(200)],  # batches
    ],
)
def test_what_is_not_sent_at_changes(tmp_path, lines):
    (seen,) = channel_of(tmp_path, lines).messages
    assert not seen.timing.at_changes
