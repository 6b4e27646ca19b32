"""Texts with a frame a line that are not candump's."""

from __future__ import annotations

from pathlib import Path

import can
import pytest

from netcheck.capture import EXTENDED, FD, REMOTE, Capture, open_capture, read_capture
from netcheck.errors import InputError
from tests.capture.test_foreign import CLASSIC, ERROR_FRAME, FD_FRAMES, REMOTE_FRAME
from tests.capture.test_oracle import flags_of

RELATIVE = "time stamps count from the start of the recording: they are not times of day"
UNNAMED = "frames name no channel: the channel is called can0 here"
EIGHT = "1122334455667788"


def read(tmp_path: Path, text: str, **how: int) -> Capture:
    path = tmp_path / "x.txt"
    path.write_bytes(text.encode())
    return read_capture(path, **how)


def frames(capture: Capture) -> list[tuple[int, int, int, str]]:
    """(id, flags, length, payload) of each frame."""
    return [
        (int(capture.can_id[i]), int(capture.flags[i]), int(capture.length[i]), capture.payload(i).hex())
        for i in range(len(capture))
    ]


SERIAL = [
    (f"t1238{EIGHT}", (0x123, 0, 8, EIGHT)),
    ("t7FF0", (0x7FF, 0, 0, "")),
    ("T18DAF11031122aa", (0x18DAF110, EXTENDED, 3, "1122aa")),
    ("r1234", (0x123, REMOTE, 4, "")),
    ("R000001230", (0x123, EXTENDED | REMOTE, 0, "")),
]


@pytest.mark.parametrize("end", ["\n", "\r", "\r\n"])
@pytest.mark.parametrize("chunk_bytes", [1, None])
def test_lines_of_a_serial_adapter(tmp_path: Path, end, chunk_bytes):
    capture = read(tmp_path, "".join(line + end for line, _ in SERIAL), chunk_bytes=chunk_bytes)
    assert frames(capture) == [frame for _, frame in SERIAL]
    assert capture.channels == ("can0",)
    assert not capture.has_times
    assert capture.warnings == (
        "read as lines of a serial adapter",
        UNNAMED,
        "5 frames without a time stamp: times are made up, 1 ms apart",
    )


def test_a_serial_adapters_own_clock_begins_anew_every_minute(tmp_path: Path):
    stamps = [0xEA00, 0xEA5F, 0x0005, 0x0004, 0x7000, 0xEA5F, 0x0000]
    capture = read(tmp_path, "".join(f"t1231{n:02X}{stamp:04X}\r" for n, stamp in enumerate(stamps)))
    assert (capture.time_ns // 1_000_000).tolist() == [59904, 59999, 60005, 60004, 88672, 119999, 120000]
    assert [capture.payload(i)[0] for i in range(7)] == list(range(7))
    assert (capture.has_times, capture.skipped) == (True, 0)
    assert RELATIVE in capture.warnings


@pytest.mark.parametrize(
    ("before", "time_ns"),
    [
        ("(1436509052.249713) ", 1436509052_249713000),
        ("1436509052.249713 ", 1436509052_249713000),
        ("[   12.5] ", 12_500_000_000),
        ("2024-02-29 12:34:56.123 ", 1709210096_123000000),
        ("12:34:56.123 ", 45296_123000000),
    ],
)
def test_a_time_before_the_line_of_a_serial_adapter(tmp_path: Path, before, time_ns):
    capture = read(tmp_path, f"{before}t12321122\n{before}bus1 r1232\n")
    assert capture.time_ns.tolist() == [time_ns, time_ns]
    assert capture.channels == ("can0", "bus1")
    assert capture.has_times


def test_a_serial_adapters_other_lines_are_counted_and_its_answers_are_not(tmp_path: Path):
    lines = [
        "O",
        f"t1238{EIGHT}",
        "z",
        "\a",
        "t1239" + EIGHT,
        "t12381122",
        "t8001AA",
        "t1231AAFFFF",
        "tXYZ1AA",
    ]
    capture = read(tmp_path, "".join(line + "\r" for line in lines))
    assert (len(capture), capture.skipped) == (1, 6)
    assert capture.warnings[0].startswith(
        "6 of 9 lines are not frames: line 1: not a frame of this format, “O”"
    )


@pytest.mark.parametrize("chunk_bytes", [1, None])
def test_what_python_can_prints(tmp_path: Path, chunk_bytes):
    messages = [*CLASSIC, REMOTE_FRAME, *FD_FRAMES, ERROR_FRAME, can.Message(START, 0x41, data=b"AB12")]
    capture = read(tmp_path, "".join(f"{message}\n" for message in messages), chunk_bytes=chunk_bytes)
    assert (len(capture), capture.skipped) == (len(messages), 0)
    for i, message in enumerate(messages):
        assert capture.flags[i] == (8 if message.is_error_frame else flags_of(message))
        assert capture.length[i] == message.dlc
        assert capture.payload(i) == bytes(message.data)
        assert abs(int(capture.time_ns[i]) - round(message.timestamp * 1e6) * 1000) <= 1000
        if not message.is_error_frame:
            assert capture.can_id[i] == message.arbitration_id
    assert capture.channels == ("can0", "can1")


START = 1_436_509_052.25


def test_printed_messages_that_lost_bytes_are_counted(tmp_path: Path):
    text = str(CLASSIC[1])
    capture = read(tmp_path, f"{text}\n{text.replace(' 07', '')}\n{text[:60]}\n")
    assert (len(capture), capture.skipped) == (1, 2)


@pytest.mark.parametrize(
    ("line", "time_ns", "frame"),
    [
        ("12.345678  123: 11 22 33", 12_345678000, (0x123, 0, 3, "112233")),
        ("(  12.345678)   0x123: 112233", 12_345678000, (0x123, 0, 3, "112233")),
        ("1436509052.25 can1 18DAF110: aa", 1436509052_250000000, (0x18DAF110, EXTENDED, 1, "aa")),
        ("0.5 00000123: 11-22", 500_000_000, (0x123, EXTENDED, 2, "1122")),
        ("0.5 7FF:", 500_000_000, (0x7FF, 0, 0, "")),
        (f"0.5 123: {EIGHT}{EIGHT}", 500_000_000, (0x123, FD, 16, EIGHT * 2)),
        ("12:34:56.5 123: 11  # note", 45296_500000000, (0x123, 0, 1, "11")),
    ],
)
def test_lines_of_time_id_and_bytes(tmp_path: Path, line, time_ns, frame):
    capture = read(tmp_path, f"# made by hand\n{line}\n")
    assert (capture.time_ns.tolist(), frames(capture), capture.skipped) == ([time_ns], [frame], 0)
    assert "ids are taken as hexadecimal" in capture.warnings


def test_a_clock_over_midnight(tmp_path: Path):
    capture = read(tmp_path, "23:59:59.5 123: 11\n00:00:00.5 123: 22\n00:00:00.4 123: 22\n")
    assert (capture.time_ns // 100_000_000).tolist() == [863995, 864005, 864004]


def test_bytes_in_the_wrong_number_are_no_frame(tmp_path: Path):
    capture = read(tmp_path, f"0.5 123: 11\n0.6 123: 1 1\n0.7 123: {EIGHT * 9}\n0.8 FFFFFFFF: 11\n")
    assert (len(capture), capture.skipped) == (1, 3)


def test_candump_text_stays_candump_text(tmp_path: Path):
    capture = read(tmp_path, "0.5 123: 11\n(1.0) can0 123#11\n0.6 123: 22\n")
    assert (len(capture), capture.skipped) == (1, 2)


@pytest.mark.parametrize("pad", [0, 1 << 20, (1 << 20) - 7])
@pytest.mark.parametrize("chunk_bytes", [1000, None])
def test_candump_with_colours(tmp_path: Path, pad, chunk_bytes):
    first = "\x1b[32m (1436509052.249713)  can0  123   [2]  11 22\x1b[0m\n"
    rest = "\x1b[1;31m (1436509052.249714)  can1  \x1b[0m123   [2]  11 33\x1b[0m\n"
    lines = first + "#" * max(pad - len(first), 0) + "\n" + rest * 50
    path = tmp_path / "x.log"
    path.write_text(lines)
    if chunk_bytes == 1000 or pad:
        lines = lines.replace("#" * max(pad - len(first), 1), "#" * 100)
    capture = read_capture(path, chunk_bytes=chunk_bytes)
    assert frames(capture) == [(0x123, 0, 2, "1122")] + [(0x123, 0, 2, "1133")] * 50
    assert (capture.channels, capture.skipped - (pad > 4096)) == (("can0", "can1"), -(pad > 4096))


@pytest.mark.parametrize("chunk_bytes", [1, 1 << 20])
@pytest.mark.parametrize(("timed", "has_times"), [(0, False), (98, False), (99, True), (200, True)])
def test_a_capture_says_whether_it_has_times(tmp_path: Path, timed, has_times, chunk_bytes):
    path = tmp_path / "x.log"
    path.write_text("  can0  123   [1]  11\n" + "".join(f"({i}.0) can0 123#11\n" for i in range(timed)))
    stream = open_capture(path, chunk_bytes=chunk_bytes)
    chunks = list(stream)
    assert stream.has_times is has_times
    assert read_capture(path).has_times is has_times
    if chunk_bytes == 1:
        assert [chunk.has_times for chunk in chunks] == [False] + [True] * timed


def test_a_last_line_of_half_a_frame(tmp_path: Path):
    capture = read(tmp_path, f"t1238{EIGHT}\rt1238{EIGHT[:9]}")
    assert (len(capture), capture.skipped) == (1, 1)
    with pytest.raises(
        InputError, match="line 1: no frame as lines of a serial adapter; number of data bytes"
    ):
        read(tmp_path, "t12381122\r")
