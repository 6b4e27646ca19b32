"""One suite over all readers: frames written with python-can's writer, read with ours."""

from __future__ import annotations

import gzip
import importlib.util
import logging
import lzma
from pathlib import Path

import can
import pytest
import zstandard

from netcheck.capture import EXTENDED, FD, REMOTE, open_capture, read_capture
from netcheck.errors import InputError
from tests.capture.test_oracle import flags_of

HAS_MF4 = importlib.util.find_spec("asammdf") is not None
START = 1_436_509_052.25
CLASSIC = [
    can.Message(START, 0x123, False, data=b"\x11\x22", channel=0),
    can.Message(START + 0.001, 0x7FF, False, data=bytes(range(8)), channel=1),
    can.Message(START + 0.002, 0x12345678, True, data=b"", channel=0),
    can.Message(START + 0.0035, 0x1FFFFFFF, True, data=b"\xff" * 8, channel=0, is_rx=False),
    can.Message(START + 0.004, 0x000, False, data=b"\x00", channel=1),
]
REMOTE_FRAME = can.Message(START + 0.005, 0x321, False, is_remote_frame=True, dlc=4, channel=0)
FD_FRAMES = [
    can.Message(START + 0.006, 0x18, False, is_fd=True, data=bytes(12), dlc=12, channel=0),
    can.Message(
        START + 0.007,
        0x18DAF110,
        True,
        is_fd=True,
        bitrate_switch=True,
        data=bytes(range(64)),
        dlc=64,
        channel=1,
    ),
]
ERROR_FRAME = can.Message(START + 0.008, is_error_frame=True, channel=0)

# format, frames that python-can's writer and reader can hold, knows channels, has absolute times
CASES = [
    ("log", [*CLASSIC, *FD_FRAMES, ERROR_FRAME], True, True),
    ("asc", [*CLASSIC, REMOTE_FRAME, *FD_FRAMES, ERROR_FRAME], True, False),
    ("blf", [*CLASSIC, REMOTE_FRAME, *FD_FRAMES, ERROR_FRAME], True, True),
    ("csv", [*CLASSIC, REMOTE_FRAME, ERROR_FRAME], False, True),
    ("trc", CLASSIC, True, True),
]


def write(path: Path, messages: list[can.Message]) -> Path:
    with can.Logger(path) as writer:
        for message in messages:
            writer.on_message_received(message)
    return path


@pytest.mark.parametrize("chunk_bytes", [1, None])
@pytest.mark.parametrize(
    ("suffix", "messages", "channels", "absolute"), CASES, ids=[case[0] for case in CASES]
)
def test_frames_written_by_python_can(tmp_path: Path, suffix, messages, channels, absolute, chunk_bytes):
    path = write(tmp_path / f"x.{suffix}", messages)
    capture = read_capture(path, chunk_bytes=chunk_bytes)
    assert (len(capture), capture.skipped) == (len(messages), 0)
    offset = 0 if absolute else START
    for i, message in enumerate(messages):
        if not message.is_error_frame:
            assert capture.can_id[i] == message.arbitration_id
            assert capture.length[i] == message.dlc
            assert capture.payload(i) == bytes(message.data)
        assert capture.flags[i] & 0b111111 == (8 if message.is_error_frame else flags_of(message))
        assert abs(int(capture.time_ns[i]) - round((message.timestamp - offset) * 1e9)) <= 10_000
        if channels:
            assert capture.channels[capture.channel[i]] == f"can{message.channel}"
    stream = open_capture(path, chunk_bytes=chunk_bytes)
    chunks = list(stream)
    assert len(chunks) == (len(messages) if chunk_bytes else 1)
    assert b"".join(chunk.data.tobytes() for chunk in chunks) == capture.data.tobytes()
    assert (stream.channels, stream.warnings) == (capture.channels, capture.warnings)


def test_relative_times_and_missing_channels_are_said(tmp_path: Path):
    asc, csv = (read_capture(write(tmp_path / f"x.{suffix}", CLASSIC)) for suffix in ("asc", "csv"))
    assert asc.warnings == ("time stamps count from the start of the recording: they are not times of day",)
    assert csv.warnings == ("frames name no channel: the channel is called can0 here",)
    assert csv.channels == ("can0",)
    assert read_capture(write(tmp_path / "x.blf", CLASSIC)).warnings == ()


@pytest.mark.parametrize(
    ("suffix", "pack"), [(".gz", gzip.compress), (".xz", lzma.compress), (".zst", zstandard.compress)]
)
@pytest.mark.parametrize("form", ["asc", "blf", "csv", "trc"])
def test_packed(tmp_path: Path, form, suffix, pack):
    plain = write(tmp_path / f"x.{form}", CLASSIC)
    packed = tmp_path / f"x.{form}{suffix}"
    packed.write_bytes(pack(plain.read_bytes()))
    one, two = read_capture(plain), read_capture(packed)
    assert one.data.tobytes() == two.data.tobytes()
    assert one.time_ns.tolist() == two.time_ns.tolist()


def test_lines_that_are_no_frames_are_counted(tmp_path: Path):
    path = tmp_path / "x.asc"
    path.write_text(
        "date Wed May 27 04:09:35.000 pm 2014\nbase hex  timestamps absolute\n"
        "   0.015991 1 123 Rx d 2 11 22\n"  # python-can takes this one for a line of the header
        "   0.020000 1  Statistic: D 0 R 0 XD 0 XR 0 E 0 O 0 B 0.00%\n"
        "   0.021000 J1939TP FEE3p 6 0 0 - Rx d 23 A0 0F\n"
        "   0.030000 1 FFF Rx d 1 11\n"
        "   0.040000 1 123 Rx d 8 11 22\n"
        "   0.050000 2 18DAF110x Rx d 1 33\nEnd TriggerBlock\n"
    )
    capture = read_capture(path)
    assert [capture.payload(i).hex() for i in range(len(capture))] == ["1122", "33"]
    assert capture.flags.tolist() == [0, EXTENDED]
    assert capture.channels == ("can0", "can1")
    assert capture.skipped == 4
    assert capture.warnings[0] == (
        "4 of 9 lines are not frames: "
        "line 4: not a frame of this format, “   0.020000 1  Statistic: D 0 R 0 XD 0 XR 0 E 0 O 0 B 0.00%”; "
        "line 5: not a frame of this format, “   0.021000 J1939TP FEE3p 6 0 0 - Rx d 23 A0 0F”; "
        "line 6: id does not fit in its bits, “   0.030000 1 FFF Rx d 1 11”; "
        "line 7: number of data bytes differs from the length given, “   0.040000 1 123 Rx d 8 11 22”"
    )


def test_an_empty_can_fd_frame_is_no_remote_frame(tmp_path: Path):
    path = tmp_path / "x.asc"
    path.write_text(
        "date Wed May 27 04:09:35.000 pm 2014\nbase hex  timestamps absolute\nno internal events logged\n"
        "   0.1 CANFD   1 Rx        123                  1 0 0  0        0 1000 200050 7500 0 0 0 0 0\n"
    )
    capture = read_capture(path)
    assert (capture.flags[0] & (FD | REMOTE), capture.length[0]) == (FD, 0)


def test_steps_between_events_are_not_taken_for_times(tmp_path: Path):
    path = tmp_path / "x.asc"
    path.write_text("base hex  timestamps relative\nno internal events logged\n 0.1 1 123 Rx d 1 11\n")
    with pytest.raises(InputError, match="differences between events – export it with absolute time stamps"):
        read_capture(path)


def test_what_stands_before_an_unreadable_line_is_kept(tmp_path: Path):
    path = tmp_path / "x.asc"
    path.write_text(
        "base hex  timestamps absolute\nno internal events logged\n 0.1 1 123 Rx d 1 11\n"
        " 0.2 1 123 Rx d 1 ZZ\n 0.3 1 123 Rx d 1 11\n"
    )
    capture = read_capture(path)
    assert len(capture) == 1
    assert capture.warnings[0].startswith("reading stopped at line 4 (ValueError: ")
    assert capture.warnings[0].endswith("): the rest is missing")


@pytest.mark.parametrize("end", ["2", "22"])
def test_a_half_written_last_line(tmp_path: Path, end):
    path = tmp_path / "x.asc"
    header = "base hex  timestamps absolute\nno internal events logged\n"
    path.write_text(header + " 0.1 1 123 Rx d 1 11\n 0.2 1 123 Rx d 1 " + end)
    capture = read_capture(path)
    assert (len(capture), capture.skipped) == ((1, 1) if end == "2" else (2, 0))
    assert "line 4, the last one, has no line end: it may have been cut off" in capture.warnings


def test_clock_steps_backwards(tmp_path: Path):
    path = tmp_path / "x.csv"
    header = "timestamp,arbitration_id,extended,remote,error,dlc,data\n"
    path.write_text(header + "".join(f"{time},0x1,0,0,0,0,\n" for time in (5.0, 6.0, 4.5, 4.0)))
    for chunk_bytes in (1, None):
        capture = read_capture(path, chunk_bytes=chunk_bytes)
        assert capture.time_ns.tolist() == [5_000_000_000, 6_000_000_000, 4_500_000_000, 4_000_000_000]
        assert capture.warnings[-1] == (
            "time goes backwards 2 times, first in frame 3, by 1.500000 s at most: "
            "frames are kept in file order"
        )


def test_python_can_is_heard_but_not_seen(tmp_path: Path, capsys, caplog):
    path = tmp_path / "x.trc"
    path.write_text(
        ";$FILEVERSION=1.1\n;$STARTTIME=43008.920986006946\n      1)         0.2  Rx         0123  2  11\n"
        "      2)         0.3  Rx         0123  2  11 22\n"
    )
    capture = read_capture(path)
    assert len(capture) == 1
    assert any(warning.startswith("python-can says: ") for warning in capture.warnings)
    assert capsys.readouterr() == ("", "")
    assert not caplog.records
    assert logging.getLogger("can").propagate


@pytest.mark.skipif(HAS_MF4, reason="asammdf is installed")
def test_mf4_without_its_package_says_what_to_install(tmp_path: Path):
    path = tmp_path / "x.mf4"
    path.write_bytes(b"MDF     4.10    ")
    with pytest.raises(InputError, match="install asammdf"):
        read_capture(path)


def test_a_foreign_csv_says_what_is_expected(tmp_path: Path):
    path = tmp_path / "x.csv"
    path.write_text("Quantity;Colour\n1;2\n")
    with pytest.raises(InputError, match="no column for the id and the data – name the columns in the first"):
        read_capture(path)
