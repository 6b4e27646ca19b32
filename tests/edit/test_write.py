"""Written captures read back as what was written."""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

import can
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from netcheck.capture import ERROR, EXTENDED, FD, REMOTE, Capture, read_capture
from netcheck.edit import CaptureWriter, by_channel, capture_lines
from netcheck.errors import InputError, UsageError
from netcheck.report._trim_words import remark_text
from tests.bench.frames import frames, rows
from tests.captures import Frame, hand_made

START = 1_700_000_000_000_000_000
DATA = Path(__file__).parents[1] / "data"


def written(path: Path, *chunks: Capture) -> tuple[str, ...]:
    """What is told of it, in words."""
    with path.open("wb") as stream:
        writer = CaptureWriter(path, stream)
        for chunk in chunks:
            writer.write(chunk)
        return tuple(map(remark_text, writer.close()))


@settings(max_examples=150)
@given(st.lists(frames(), min_size=1, max_size=30), st.sampled_from(["log", "log.gz", "log.xz", "log.zst"]))
def test_a_log_reads_back_equal(some, suffix):
    capture = hand_made(some)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"x.{suffix}"
        assert written(path, capture) == ()
        again = read_capture(path)
    assert rows(again) == rows(capture)
    assert again.skipped == 0


def test_lines_are_those_of_candump():
    # Expected by hand, after the log format that can-utils prints (lib.c, sprint_canframe).
    some = [
        Frame(0x123, b"\x11\xab", 0, START + 1_000),
        Frame(0x12, b"", EXTENDED, START + 1_001, "can1"),
        Frame(0x7FF, b"", REMOTE, START + 2_000_000, length=0),
        Frame(0x1ABCDEF0, b"", REMOTE | EXTENDED, START + 2_000_000, length=8),
        Frame(0x4, b"\x00\x01", ERROR, START + 1_000_000_000),
        Frame(0x18, bytes(12), FD, START + 1_000_000_000),
        Frame(0x18, b"", FD | 16 | 32, START + 1_000_000_000),
        Frame(0x1, b"\xff", 0, 7_000),
    ]
    assert capture_lines(hand_made(some)).decode().splitlines() == [
        "(1700000000.000001) can0 123#11AB",
        "(1700000000.000001001) can1 00000012#",
        "(1700000000.002000) can0 7FF#R",
        "(1700000000.002000) can0 1ABCDEF0#R8",
        "(1700000001.000000) can0 20000004#0001",
        "(1700000001.000000) can0 018##0000000000000000000000000",
        "(1700000001.000000) can0 018##3",
        "(0000000000.000007) can0 001#FF",
    ]


def test_python_can_reads_the_log_too(tmp_path):
    some = [
        Frame(0x123, b"\x11\xab", 0, START + 1_000),
        Frame(0x12345678, bytes(range(8)), EXTENDED, START + 2_000, "can1"),
        Frame(0x18, bytes(range(12)), FD, START + 3_000),
    ]
    written(tmp_path / "x.log", hand_made(some))
    for frame, message in zip(some, can.LogReader(tmp_path / "x.log"), strict=True):
        assert (message.arbitration_id, bytes(message.data), message.channel) == (
            frame.can_id,
            frame.data,
            frame.channel,
        )
        assert (message.is_extended_id, message.is_fd) == (
            bool(frame.flags & EXTENDED),
            bool(frame.flags & FD),
        )


def test_a_real_drive_reads_back_equal(tmp_path):
    capture = read_capture(DATA / "rav4_2016_3s.log.gz")
    written(tmp_path / "x.log", capture)
    assert rows(read_capture(tmp_path / "x.log")) == rows(capture)


FOREIGN = [
    Frame(0x123, b"\x11\xab", 0, START + 1_000),
    Frame(0x12345678, bytes(range(8)), EXTENDED, START + 250_000, "can1"),
    Frame(0x321, b"", REMOTE, START + 300_000, length=4),
    Frame(0x18, bytes(range(12)), FD, START + 400_000),
    Frame(0x7FF, b"\x01", 0, START + 500_000),
]


ASC_TIMES = "asc is read back with times from its first frame; the time of day is in its head only"


@pytest.mark.parametrize(
    ("suffix", "kept", "notes"),
    [
        ("asc", 5, (ASC_TIMES,)),
        ("asc.gz", 5, (ASC_TIMES,)),
        ("blf", 5, ()),
        (
            "csv",
            4,
            (
                "1 CAN FD frame left out: csv has no place for them",
                "csv has no channels: all frames are on one",
            ),
        ),
        (
            "trc",
            3,
            (
                "1 CAN FD frame left out: trc has no place for them",
                "1 remote frame left out: trc has no place for them",
            ),
        ),
    ],
)
def test_other_formats_keep_what_they_can(tmp_path, suffix, kept, notes):
    path = tmp_path / f"x.{suffix}"
    capture = hand_made(FOREIGN)
    assert written(path, capture) == notes
    again = read_capture(path)
    left = [
        row for row in rows(capture) if kept == 5 or (not row[3] & FD and (kept == 4 or not row[3] & REMOTE))
    ]
    assert [row[2:] for row in rows(again)] == [row[2:] for row in left]
    for new, old in zip(rows(again), left, strict=True):
        base = rows(again)[0][0] - left[0][0]  # asc counts from its start
        assert abs(new[0] - old[0] - base) <= 1_000
        assert suffix == "csv" or new[1] == old[1]


@pytest.mark.parametrize("suffix", ["asc", "blf", "csv", "trc"])
def test_digits_of_a_time_that_a_format_does_not_keep_are_told(tmp_path, suffix):
    """python-can's messages hold seconds in 64-bit floats: 0.2 µs at today's date."""
    some = [Frame(1, b"", 0, START + ns) for ns in (0, 1_001, 2_000, 3_999)]
    note = f"the digits below 1 µs are lost in the times of 2 frames: {suffix} does not keep them"
    assert note in written(tmp_path / f"x.{suffix}", hand_made(some))
    again = [row[0] - START for row in rows(read_capture(tmp_path / f"x.{suffix}"))]
    assert [ns - again[0] for ns in again] != [0, 1_001, 2_000, 3_999]
    whole = hand_made([Frame(1, b"", 0, START + ns) for ns in (0, 1_000, 2_000)])
    assert not any("digits" in told for told in written(tmp_path / f"y.{suffix}", whole))
    assert written(tmp_path / "x.log", hand_made(some)) == ()


def test_the_same_frames_give_the_same_bytes(tmp_path):
    for suffix in ("log.gz", "log.xz", "log.zst", "csv", "trc", "blf", "asc"):
        capture = hand_made(FOREIGN)
        written(tmp_path / f"x.{suffix}", capture)
        first = (tmp_path / f"x.{suffix}").read_bytes()
        written(tmp_path / f"x.{suffix}", capture)
        assert (tmp_path / f"x.{suffix}").read_bytes() == first
        assert b"part" not in first
    assert (tmp_path / "x.asc").read_text().startswith("date Tue Nov 14 22:13:20.0 2023\n")  # the frames' own


def test_names_that_a_format_cannot_hold_are_told(tmp_path):
    capture = hand_made([Frame(1, b"", channel="left bus"), Frame(1, b"", channel="can0")])
    assert written(tmp_path / "x.log", capture) == ("channel 'left bus' is called left_bus in the log",)
    assert written(tmp_path / "x.blf", capture) == (
        "blf knows channels by number: left bus becomes number 1",
        "blf knows channels by number: can0 becomes number 2",
    )


def test_what_asc_does_not_keep_of_error_frames_is_told(tmp_path):
    frames = [
        Frame(1, b"", 0, START),
        Frame(0x80, bytes(8), ERROR),
        Frame(0x4, bytes(8), ERROR),
        Frame(0, b"", ERROR),
    ]
    note = "the kind of 2 error frames is lost: asc has no place for it"
    assert written(tmp_path / "x.asc", hand_made(frames)) == (ASC_TIMES, note)
    again = read_capture(tmp_path / "x.asc")
    assert again.is_error.tolist() == [False, True, True, True]
    assert written(tmp_path / "y.asc", again) == ()


def test_a_file_of_one_channel_is_not_told_of_the_others(tmp_path):
    """As ``--split`` writes them: the names of all channels, the frames of one."""
    frames = [Frame(1, b"", channel="left"), Frame(1, b"", channel="can0"), Frame(2, b"", channel="can1")]
    parts = dict(by_channel(hand_made(frames)))
    assert written(tmp_path / "x.csv", parts["can1"]) == ()
    assert written(tmp_path / "x.blf", parts["can0"]) == ()
    assert written(tmp_path / "y.blf", parts["left"]) == (
        "blf knows channels by number: left becomes number 1",
    )
    assert read_capture(tmp_path / "x.blf").channels == ("can0",)


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("x.mdf", "x.mdf: its name tells no format – end it in one of .log, "),
        ("x.gz", "x.gz: its name tells no format"),
        ("x.blf.gz", "x.blf.gz: a blf file is compressed already – leave out the gzip suffix"),
    ],
)
def test_a_name_that_tells_no_format(name, says, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(InputError, match="^" + says.replace(".", r"\.")):
        written(Path(name), hand_made(FOREIGN))


def test_times_before_1970_are_refused():
    with pytest.raises(UsageError, match="before the year 1970"):
        capture_lines(hand_made([Frame(1, b"", 0, -1)]))


def test_the_room_imports_nothing_heavy_by_itself():
    code = "import sys, netcheck.bench; print([name for name in ('numba', 'can') if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"
