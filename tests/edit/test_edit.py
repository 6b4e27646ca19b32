"""Cutting and joining captures, against a plain walk over the frames."""

from __future__ import annotations

import tempfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from netcheck.capture import ERROR, EXTENDED, REMOTE
from netcheck.edit import Cut, Edit, IdSpan, Track, by_channel, capture_lines, id_span, marks_text
from netcheck.errors import InputError, UsageError
from netcheck.files import load_marks, side_file
from tests.bench.frames import frames, rows
from tests.captures import Frame, hand_made
from tests.edit.words import told

MS = 1_000_000
NS = 1_000_000_000
START = 1_700_000_000 * NS


def put(path: Path, some: list[Frame]) -> Path:
    path.write_bytes(capture_lines(hand_made(some)))
    return path


def edited(paths: list[Path], cut: Cut, chunk_bytes: int | None = None) -> tuple[list[tuple], Edit]:
    edit = Edit(paths, cut, chunk_bytes=chunk_bytes)
    return [row for chunk in edit for row in rows(chunk)], edit


def plain_merge(sources: list[list[tuple]]) -> list[tuple]:
    """All frames by the latest time so far in their own source, then by source."""
    keyed = []
    for number, source in enumerate(sources):
        latest = None
        for row in source:
            latest = row[0] if latest is None else max(latest, row[0])
            keyed.append((latest, number, row))
    return [row for _, _, row in sorted(keyed, key=lambda entry: entry[:2])]


CLOSE = st.integers(0, 40).map(lambda ms: START + ms * MS)
SOURCES = st.lists(st.lists(st.tuples(CLOSE, frames()), min_size=1, max_size=30), min_size=1, max_size=4)


@settings(max_examples=60)
@given(SOURCES, st.sampled_from([1, 60, 200, None]), st.booleans())
def test_joined_by_time_whatever_the_chunks(sources, chunk_bytes, in_order):
    with tempfile.TemporaryDirectory() as folder:
        paths, expected = [], []
        for number, source in enumerate(sources):
            some = [frame._replace(time_ns=time) for time, frame in source]
            if in_order:
                some.sort(key=lambda frame: frame.time_ns)
            paths.append(put(Path(folder) / f"{number}.log", some))
            expected.append(rows(hand_made(some)))
        found, edit = edited(paths, Cut(), chunk_bytes)
    assert found == plain_merge(expected)
    assert edit.frames == len(found)


IDS = st.sampled_from([IdSpan(0x100, 0x3FF, False), IdSpan(0x7F0, 0x7FF, False), IdSpan(0, 0xFFFFFFF, True)])


@settings(max_examples=60)
@given(
    st.lists(st.tuples(CLOSE, frames()), min_size=1, max_size=30),
    st.lists(IDS, max_size=2),
    st.lists(IDS, max_size=1),
    st.sampled_from([None, 0.0, 0.01]),
    st.sampled_from([None, 0.01, 0.03]),
    st.sampled_from([(), ("can0",)]),
)
def test_a_cut_keeps_what_a_plain_walk_keeps(source, ids, not_ids, begin, end, channels):
    some = [frame._replace(time_ns=time) for time, frame in source]
    some.append(Frame(0x100, b"", 0, START, "can0"))

    def among(row, spans):
        extended, error = bool(row[3] & EXTENDED), row[3] & ERROR
        return not error and any(s.low <= row[2] <= s.high and s.is_extended == extended for s in spans)

    first = some[0].time_ns
    expected = [
        row
        for row in rows(hand_made(some))
        if (not ids or among(row, ids))
        and not among(row, not_ids)
        and (begin is None or row[0] - first >= begin * NS)
        and (end is None or row[0] - first < end * NS)
        and (not channels or row[1] in channels)
    ]
    cut = Cut(begin_s=begin, end_s=end, ids=tuple(ids), not_ids=tuple(not_ids), channels=channels)
    with tempfile.TemporaryDirectory() as folder:
        found, _ = edited([put(Path(folder) / "x.log", some)], cut, 100)
    assert found == expected


@settings(max_examples=40)
@given(st.lists(frames(), min_size=1, max_size=30))
def test_blanking_zeroes_the_payload_of_its_ids_alone(some):
    spans = (IdSpan(0, 0x3FF, False), IdSpan(0, 0xFFFFFFF, True))
    with tempfile.TemporaryDirectory() as folder:
        found, _ = edited([put(Path(folder) / "x.log", some)], Cut(blank=spans), 100)
    for row, frame in zip(found, hand_made_rows(some), strict=True):
        hit = not frame[3] & ERROR and any(
            s.low <= frame[2] <= s.high and s.is_extended == bool(frame[3] & EXTENDED) for s in spans
        )
        payload = bytes(frame[4]) if hit and not frame[3] & REMOTE else frame[5]
        assert row == (*frame[:5], payload)


def hand_made_rows(some: list[Frame]) -> list[tuple]:
    return rows(hand_made(some))


MARKS = """kind = "marks"
format = 1
[[mark]]
role = "reverse-engaged"
state = "active"
from = 2.0
to = 3.0
[[mark]]
role = "vehicle-speed"
between = [5.0, 8.0]
from = 6.5
to = 7.25
[[mark]]
role = "gear"
state = 3
from = 0.5
to = 1.0
"""


def every_100_ms(seconds: int) -> list[Frame]:
    return [Frame(0x100 + n % 3, bytes([n]), 0, START + n * 100 * MS) for n in range(seconds * 10)]


@pytest.fixture
def drive(tmp_path: Path) -> Path:
    (tmp_path / "drive.marks.toml").write_text(MARKS)
    return put(tmp_path / "drive.log", every_100_ms(10))


def through(edit: Edit) -> Track:
    track = Track()
    for chunk in edit:
        track.add(chunk)
    return track


def test_marks_move_with_the_first_frame_that_is_left(drive):
    edit = Edit([drive], Cut(begin_s=1.5, end_s=5.0))
    track = through(edit)
    assert (track.frames, track.seconds) == (35, 3.4)
    marks, outside = edit.marks(track)
    assert [(mark.role, mark.from_, mark.to) for mark in marks] == [("reverse-engaged", 0.5, 1.5)]
    assert outside == 2


def test_a_mark_that_is_partly_inside_stays_as_long_as_it_was(drive):
    edit = Edit([drive], Cut(begin_s=2.5))
    marks, outside = edit.marks(through(edit))
    assert [(mark.from_, mark.to) for mark in marks] == [(-0.5, 0.5), (4.0, 4.75)]
    assert outside == 1


def test_a_shift_moves_the_clock_and_not_the_marks(drive):
    edit = Edit([drive], Cut(shift_s=-3600.5))
    track = through(edit)
    assert track.first_ns == START - 3600 * NS - 500 * MS
    marks, _ = edit.marks(track)
    assert [mark.from_ for mark in marks] == [0.5, 2.0, 6.5]


def test_stretches_around_the_marks_of_a_role(drive):
    found, _ = edited([drive], Cut(roles=("reverse-engaged", "vehicle-speed"), margin_s=0.5))
    seconds = [(row[0] - START) / NS for row in found]
    assert (seconds[0], seconds[-1]) == (1.5, 7.7)
    assert all(1.5 <= second <= 3.5 or 6.0 <= second <= 7.75 for second in seconds)
    assert len(found) == 21 + 18
    track = through(Edit([drive], Cut(roles=("reverse-engaged",))))
    assert track.first_ns == START


def test_marks_of_joined_captures_count_from_the_joined_start(drive, tmp_path):
    earlier = put(tmp_path / "a.log", [Frame(1, b"", 0, START - 4 * NS)])
    edit = Edit([drive, earlier], Cut())
    marks, _ = edit.marks(through(edit))
    assert [mark.from_ for mark in marks] == [4.5, 6.0, 10.5]
    assert "channel can0 is in drive.log and a.log" in told(edit)[0]


def test_two_channels_that_become_one_by_name_are_told(tmp_path):
    one = put(tmp_path / "one.log", [Frame(1, b"", 0, START), Frame(2, b"", 0, START + MS, "can1")])
    two = put(tmp_path / "two.log", [Frame(3, b"", 0, START + 2 * MS, "can2")])
    _, edit = edited([one, two], Cut(renamed={"can0": "x", "can1": "x", "can2": "y"}))
    assert told(edit) == ["can0 and can1 become one channel, x: give different buses different names"]
    _, edit = edited([one, two], Cut(renamed={"can0": "can1"}))
    assert told(edit) == ["can0 and can1 become one channel, can1: give different buses different names"]
    for fine in ({"can0": "can1", "can1": "can0"}, {"can0": "x"}):
        assert edited([one, two], Cut(renamed=fine))[1].remarks == ()
    _, edit = edited([one, two], Cut(renamed={"can0": "can1"}, channels=("can0", "can2")))
    assert edit.remarks == ()


def test_the_same_mark_beside_several_captures_is_one(drive, tmp_path):
    """As when what was split by channel is joined again."""
    second = tmp_path / "second.log"
    second.write_bytes(drive.read_bytes())
    marks = side_file(drive).read_text()
    side_file(second).write_text(marks)
    track = Track()
    edit = Edit([drive, second], Cut())
    for chunk in edit:
        track.add(chunk)
    found, outside = edit.marks(track)
    beside = [loaded.mark for loaded in load_marks(side_file(drive))]
    assert (found, outside) == (sorted(beside, key=lambda mark: mark.from_), 0)


def test_marks_read_back_as_they_were(drive, tmp_path):
    edit = Edit([drive], Cut())
    marks, _ = edit.marks(through(edit))
    odd = marks[0].model_copy(update={"state": 'a "label"\\ \x7f\tü'})
    (tmp_path / "y.marks.toml").write_text(marks_text([*marks, odd]), encoding="utf-8")
    assert [loaded.mark for loaded in load_marks(tmp_path / "y.marks.toml")] == [*marks, odd]


def test_channels_renamed_and_split(tmp_path):
    some = [Frame(n, b"", 0, START + n * MS, f"can{n % 3}") for n in range(30)]
    edit = Edit([put(tmp_path / "x.log", some)], Cut(renamed={"can0": "drive"}), chunk_bytes=100)
    found: dict[str, list[int]] = {}
    for chunk in edit:
        for name, part in by_channel(chunk):
            found.setdefault(name, []).extend(part.can_id)
    assert found == {
        "drive": list(range(0, 30, 3)),
        "can1": list(range(1, 30, 3)),
        "can2": list(range(2, 30, 3)),
    }


@pytest.mark.parametrize(
    ("cut", "says"),
    [
        (Cut(channels=("can7",)), "no capture has a channel can7 – there are can0"),
        (Cut(renamed={"can7": "x"}), "no capture has a channel can7 – there are can0"),
        (Cut(roles=("gaer",)), "no mark of 'gaer' – one of gear, reverse-engaged, vehicle-speed"),
        (Cut(shift_s=-2e9), "{file}: shifted by -2e+09 s, frames would lie before the year 1970"),
        (Cut(shift_s=9e9), "{file}: shifted by 9e+09 s, frames would lie after the year 2262"),
    ],
)
def test_what_cannot_be_is_said(drive, cut, says):
    with pytest.raises(UsageError) as caught:
        edited([drive], cut)
    assert str(caught.value).startswith(says.format(file=drive))


def test_a_role_without_any_marks_file(tmp_path):
    with pytest.raises(UsageError, match="no capture has a marks file beside it"):
        Edit([put(tmp_path / "x.log", every_100_ms(1))], Cut(roles=("gear",)))


def test_a_missing_capture(tmp_path):
    with pytest.raises(InputError, match="no such file"):
        edited([tmp_path / "x.log"], Cut())


def test_clocks_that_do_not_fit_and_ids_that_never_came_are_told(drive, tmp_path):
    zero = put(tmp_path / "z.log", [Frame(1, b"", 0, 5 * NS, "can1")])
    _, edit = edited([drive, zero], Cut(ids=(IdSpan(0x100, 0x100, False), IdSpan(0x5, 0x5, True))))
    assert told(edit) == [
        "no frame has the id 0x00000005",
        "some captures have times of day, others count from their start: their times do not match",
    ]


@pytest.mark.parametrize(
    ("text", "span"),
    [
        ("0x123", (0x123, 0x123, False)),
        ("0X0-0x7ff", (0, 0x7FF, False)),
        ("0x800", (0x800, 0x800, True)),
        ("0x00000123", (0x123, 0x123, True)),
        (" 0x18FF2100-0x18ff21FE ", (0x18FF2100, 0x18FF21FE, True)),
    ],
)
def test_ids_as_they_are_written(text, span):
    assert id_span(text) == span
    assert id_span(str(id_span(text))) == span


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("123", "'123' is not an id"),
        ("0x", "'0x' is not an id"),
        ("0x100-", "'0x100-' is not an id"),
        ("0x20000000", "'0x20000000' is more than 29 bits"),
        ("0x200-0x100", "'0x200-0x100' runs backwards"),
        ("0x7FF-0x800", "'0x7FF-0x800' runs from 11 to 29 bits"),
    ],
)
def test_ids_that_are_none(text, says):
    with pytest.raises(UsageError, match=says):
        id_span(text)
