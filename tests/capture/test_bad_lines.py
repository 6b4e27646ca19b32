"""Lines that are no frames: none is read as one, each is counted and named with its reason."""

from __future__ import annotations

from pathlib import Path

import pytest

from netcheck.capture import open_capture, read_capture

GOOD = "(1436509053.000000) can9 700#\n"
STAMP = "(1436509052.249713) "
EIGHT = "1122334455667788"

BAD = [
    (STAMP + "can0 123#112", "odd number of data digits"),
    (STAMP + "can0 123#1", "odd number of data digits"),
    (STAMP + "can0 123#11.2.33", "odd number of data digits"),
    (STAMP + "can0 123#1122334455667788_", "raw length code does not match the data"),
    (STAMP + f"can0 123#{EIGHT}_8", "raw length code does not match the data"),
    (STAMP + f"can0 123#{EIGHT}_BB", "raw length code does not match the data"),
    (STAMP + "can0 123#1122_B", "raw length code does not match the data"),
    (STAMP + f"can0 123##1{EIGHT}_B", "raw length code does not match the data"),
    (STAMP + f"can0 123#{EIGHT}99", "more than 8 data bytes in a classic frame"),
    (STAMP + "can0 123##1" + EIGHT * 8 + "99", "more than 64 data bytes"),
    (STAMP + "can0 123##", "data are not hex digits in pairs"),
    (STAMP + "can0 123##G11", "data are not hex digits in pairs"),
    (STAMP + "can0 123##1R", "data are not hex digits in pairs"),
    (STAMP + "can0 123#11G2", "data are not hex digits in pairs"),
    (STAMP + "can0 123#11..22", "data are not hex digits in pairs"),
    (STAMP + "can0 123#.11", "data are not hex digits in pairs"),
    (STAMP + "can0 123#11.", "data are not hex digits in pairs"),
    (STAMP + "can0 20000004##011", "data are not hex digits in pairs"),
    (STAMP + "can0 123#R9", "remote frame with something other than a length from 0 to 8"),
    (STAMP + "can0 123#R12", "remote frame with something other than a length from 0 to 8"),
    (STAMP + "can0 123#R4_9", "remote frame with something other than a length from 0 to 8"),
    (STAMP + "can0 20000004#R", "remote frame with something other than a length from 0 to 8"),
    (STAMP + "can0 #11", "id is not 3 or 8 hex digits"),
    (STAMP + "can0 12#11", "id is not 3 or 8 hex digits"),
    (STAMP + "can0 1234#11", "id is not 3 or 8 hex digits"),
    (STAMP + "can0 1234567#11", "id is not 3 or 8 hex digits"),
    (STAMP + "can0 123456789#11", "id is not 3 or 8 hex digits"),
    (STAMP + "can0 12G#11", "id is not 3 or 8 hex digits"),
    (STAMP + "can0 800#11", "id does not fit in 11 bits"),
    (STAMP + "can0 FFF#11", "id does not fit in 11 bits"),
    (STAMP + "can0 40000000#11", "id does not fit in 29 bits"),
    (STAMP + "can0 FFFFFFFF#11", "id does not fit in 29 bits"),
    (STAMP + "can0 45123#81:00:12345678#11223344.556677", "CAN XL frame"),
    ("  can0  123   [0004] (00|00:12345678) 11 22 33 44", "CAN XL frame"),
    (STAMP + "can0 123#1122 X", "something else after the frame"),
    (STAMP + "can0 123#1122 / X", "something else after the frame"),
    (STAMP + "can0 123#1122 R#X", "something else after the frame"),
    (STAMP + "can0 123#1122# X", "data are not hex digits in pairs"),
    ("  can0  123   [2]  11 22   '..'# X", "something else after the frame"),
    ("(1436509052. 249713) can0 123#11", "time stamp cannot be read"),
    ("(   ) can0 123#11", "time stamp cannot be read"),
    (STAMP + "can0 123#1122 R R", "something else after the frame"),
    (STAMP + "can0 123#1122 (1.0) can0 123#11", "something else after the frame"),
    ("(1436509052.) can0 123#11", "time stamp cannot be read"),
    ("(1436509052.24971 can0 123#11", "time stamp cannot be read"),
    ("(-1.0) can0 123#11", "time stamp cannot be read"),
    ("(nan) can0 123#11", "time stamp cannot be read"),
    ("(12345678901.0) can0 123#11", "time stamp cannot be read"),
    ("(9999999999.0) can0 123#11", "time stamp cannot be read"),
    ("(1.0)can0 123#11", "time stamp cannot be read"),
    ("(2024-02-30 12:00:00.0)  can0  123   [1]  11", "time stamp cannot be read"),
    ("(2024-01-31 24:00:00.0)  can0  123   [1]  11", "time stamp cannot be read"),
    ("(2024-1-31 12:00:00.0)  can0  123   [1]  11", "time stamp cannot be read"),
    ("can0 123#1122", "no time stamp"),
    (STAMP + "123#1122", "not a candump line"),
    (STAMP + "can0", "not a candump line"),
    (STAMP.strip(), "time stamp cannot be read"),
    ("hello world", "not a candump line"),
    ("\tbus-error", "not a candump line"),
    (STAMP + "x" * 65 + " 123#11", "channel name cannot be read"),
    (STAMP + "can\x1b0 123#11", "channel name cannot be read"),
    ("  can0  123   [2]  11", "number of data bytes differs from the length given"),
    ("  can0  123   [1]  11 22", "number of data bytes differs from the length given"),
    ("  can0  123  [12]  11 22", "number of data bytes differs from the length given"),
    ("  can0  123   [9]  11 22 33 44 55 66 77 88 99", "more than 8 data bytes in a classic frame"),
    ("  can0  123  [65]  " + " ".join(["11"] * 65), "more than 64 data bytes"),
    ("  can0  123   [2]  1 122", "data are not hex digits in pairs"),
    ("  can0  123   [2]  22`11", "data are not hex digits in pairs"),
    ("  can0  123   [1]  00010001", "data are not hex digits in pairs"),
    ("  can0  123   []  11", "length in brackets cannot be read"),
    ("  can0  123   [x]  11", "length in brackets cannot be read"),
    ("  can0  123   [2  11 22", "length in brackets cannot be read"),
    ("  can0  123   {G}  11", "length in brackets cannot be read"),
    ("  can0  20000004  [08]  11 22 33 44 55 66 77 88", "length in brackets cannot be read"),
    ("  can0  1234   [1]  11", "id is not 3 or 8 hex digits"),
    ("  can0  123   [2]  11 22   '.'", "something else after the frame"),
    ("  can0  123   [2]  11 22   '..", "something else after the frame"),
    ("  can0  123  [02]  remote request", "something else after the frame"),
    ("  can0  RX -  123   [2]  11 22", "not a candump line"),
    ("  can0  123  11 22", "not a candump line"),
    ("DROPCOUNT: dropped 3 CAN frames on 'can0' socket (total drops 3)", "the recorder lost frames here"),
    (STAMP + "can0 123#11" + " " * 4100 + "x", "longer than 4096 bytes"),
]


@pytest.mark.parametrize(("line", "reason"), BAD, ids=[line[-60:] for line, _ in BAD])
def test_line_is_no_frame(tmp_path: Path, line, reason):
    path = tmp_path / "x.log"
    # The good lines behind it let the short way see the line, too.
    path.write_text(GOOD + line + "\n" + GOOD * 5)
    capture = read_capture(path)
    assert (len(capture), capture.skipped) == (6, 1)
    assert capture.channels == ("can9",)
    assert capture.warnings[0].startswith(f"1 of 7 lines is not a frame: line 2: {reason}, “")


@pytest.mark.parametrize("chunk_bytes", [1, 50, 1 << 20])
def test_the_first_five_are_named_the_rest_counted(tmp_path: Path, chunk_bytes):
    path = tmp_path / "x.log"
    path.write_text("".join(f"bad {i}\n{GOOD}" for i in range(7)))
    capture = read_capture(path, chunk_bytes=chunk_bytes)
    assert capture.skipped == 7
    assert capture.warnings == (
        "7 of 14 lines are not frames: line 1: not a candump line, “bad 0”; "
        "line 3: not a candump line, “bad 1”; "
        "line 5: not a candump line, “bad 2”; line 7: not a candump line, “bad 3”; "
        "line 9: not a candump line, “bad 4”; and 2 more",
    )


def test_a_long_or_unprintable_line_is_shown_short(tmp_path: Path):
    path = tmp_path / "x.log"
    path.write_bytes(b"\x01\xff" + b"y" * 100 + b"\n" + GOOD.encode())
    (warning,) = read_capture(path).warnings
    assert warning == f"1 of 2 lines is not a frame: line 1: not a candump line, “·\ufffd{'y' * 58}…”"


def test_blank_lines_and_comments_are_neither(tmp_path: Path):
    path = tmp_path / "x.log"
    path.write_bytes(b"\xef\xbb\xbf# recorded at the bench\r\n\r\n  \t\n; note\n   # note\n" + GOOD.encode())
    capture = read_capture(path)
    assert (len(capture), capture.skipped, capture.warnings) == (1, 0, ())


def test_lost_frames_reported_by_the_recorder_are_said(tmp_path: Path):
    path = tmp_path / "x.log"
    path.write_text(GOOD + "DROPCOUNT: dropped 3 CAN frames on 'can0' socket (total drops 3)\n" * 2)
    assert read_capture(path).warnings[1] == "the recorder reports 2 times that it lost frames"


def test_an_impossible_can_fd_length_is_kept_and_said(tmp_path: Path):
    path = tmp_path / "x.log"
    path.write_text(GOOD + "(1436509054.0) can0 123##1" + "11" * 9 + "\n")
    capture = read_capture(path)
    assert capture.length[1] == 9
    assert capture.warnings == (
        "1 CAN FD frame of a length that CAN FD does not have, first in line 2: kept as written",
    )


def test_a_line_of_40_megabytes_is_one_line(tmp_path: Path):
    path = tmp_path / "x.log"
    with path.open("wb") as file:
        file.write(GOOD.encode() + b"(1.0) can0 123#")
        for _ in range(40):
            file.write(b"1" * 1_000_000)
        file.write(b"\n" + GOOD.encode())
    for chunk_bytes in (None, 1000):
        stream = open_capture(path, chunk_bytes=chunk_bytes)
        assert sum(len(chunk) for chunk in stream) == 2
        assert stream.skipped == 1
        assert "line 2: longer than 4096 bytes" in stream.warnings[0]


def test_more_channels_than_an_index_can_hold(tmp_path: Path):
    path = tmp_path / "x.log"
    path.write_text("".join(f"(1.0) can{i} 123#11\n" for i in range(256)))
    assert len(read_capture(path).channels) == 256
    path.write_text("".join(f"(1.0) can{i} 123#11\n" for i in range(257)))
    for chunk_bytes in (1, 1 << 20):
        with pytest.raises(Exception, match="more than 256 different channel names"):
            read_capture(path, chunk_bytes=chunk_bytes)
