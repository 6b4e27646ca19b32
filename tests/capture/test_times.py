"""Time stamps: absolute, dated, delta, zeroed, or none."""

from __future__ import annotations

from pathlib import Path

import pytest

from netcheck.capture import read_capture

SECOND = 1_000_000_000
RELATIVE = "time stamps count from the start of the recording: they are not times of day"
STEPS = "time stamps are steps from frame to frame, added up from 0: they are not times of day"


def read(tmp_path: Path, lines: list[str], chunk_bytes: int = 1 << 20):
    path = tmp_path / "x.log"
    path.write_text("".join(line + "\n" for line in lines))
    return read_capture(path, chunk_bytes=chunk_bytes)


def screen(stamps: list[str]) -> list[str]:
    return [f" ({stamp})  can0  123   [1]  {i % 256:02X}" for i, stamp in enumerate(stamps)]


def log(stamps: list[str]) -> list[str]:
    return [f"({stamp}) can0 123#{i % 256:02X}" for i, stamp in enumerate(stamps)]


@pytest.mark.parametrize(
    ("stamp", "time_ns"),
    [
        ("1436509052.249713", 1436509052_249713000),
        ("1436509052.249713123", 1436509052_249713123),
        ("1436509052.2497131239", 1436509052_249713123),
        ("1436509052.2", 1436509052_200000000),
        ("1436509052", 1436509052_000000000),
        ("0000000001.000001", 1_000001000),
        ("46408.584930", 46408_584930000),
        ("9223372035.999999999", 9223372035_999999999),
    ],
)
def test_seconds_with_any_fraction(tmp_path: Path, stamp, time_ns):
    assert read(tmp_path, log([stamp])).time_ns.tolist() == [time_ns]


def test_dates_are_taken_as_utc_and_that_is_said(tmp_path: Path):
    # POSIX: 2024-02-29 12:34:56 UTC is 1709210096 (date -u -d @1709210096).
    capture = read(tmp_path, screen(["2024-02-29 12:34:56.123456", "1970-01-01 00:00:00.5"]))
    assert capture.time_ns.tolist() == [1709210096_123456000, 500_000_000]
    assert capture.warnings[0] == "time stamps are dates without a time zone: taken as UTC"


def test_absolute_screen_output(tmp_path: Path):
    capture = read(tmp_path, screen(["1436509052.249713", "1436509052.350000"]))
    assert capture.time_ns.tolist() == [1436509052_249713000, 1436509052_350000000]
    assert capture.warnings == ()


@pytest.mark.parametrize("chunk_bytes", [1, 1 << 20])
def test_zeroed_screen_output(tmp_path: Path, chunk_bytes):
    capture = read(tmp_path, screen(["000.000000", "000.100000", "000.100000", "000.250000"]), chunk_bytes)
    assert capture.time_ns.tolist() == [0, SECOND // 10, SECOND // 10, SECOND // 4]
    assert capture.warnings == (RELATIVE,)


@pytest.mark.parametrize("chunk_bytes", [1, 1 << 20])
def test_delta_screen_output_goes_up_and_down(tmp_path: Path, chunk_bytes):
    capture = read(tmp_path, screen(["000.000000", "000.100000", "000.050000", "000.250000"]), chunk_bytes)
    assert capture.time_ns.tolist() == [0, 100_000_000, 150_000_000, 400_000_000]
    assert capture.warnings == (STEPS,)


def test_delta_screen_output_of_one_period(tmp_path: Path):
    capture = read(tmp_path, screen(["000.000000"] + ["000.100000"] * 4))
    assert capture.time_ns.tolist() == [0, 100_000_000, 200_000_000, 300_000_000, 400_000_000]


def test_delta_screen_output_from_its_middle_on(tmp_path: Path):
    capture = read(tmp_path, screen(["000.010000", "000.002000"] * 10))
    assert capture.time_ns[-1] == 120_000_000
    assert capture.warnings == (STEPS,)


def test_a_zeroed_recording_started_again_is_not_delta(tmp_path: Path):
    once = [f"{i // 10:03d}.{i % 10}00000" for i in range(30)]
    capture = read(tmp_path, screen(once + once))
    assert capture.time_ns[-1] == 2_900_000_000
    assert capture.warnings == (
        RELATIVE,
        "time goes backwards 1 time, first in line 31, by 2.900000 s at most: frames are kept in file order",
    )


def test_delta_log_lines_need_many_frames_and_the_form_of_candump(tmp_path: Path):
    steps = ["000.000000"] + ["000.010000", "000.002000"] * 10
    capture = read(tmp_path, log(steps))
    assert capture.time_ns[-1] == 120_000_000
    assert capture.warnings == (STEPS,)
    few = read(tmp_path, log(["0.0", "1.0", "0.5"]))
    assert few.time_ns.tolist() == [0, SECOND, SECOND // 2]


def test_zeroed_log_lines_are_said_in_the_form_of_candump_only(tmp_path: Path):
    assert read(tmp_path, log(["000.000000", "000.100000"])).warnings == (RELATIVE,)
    assert read(tmp_path, log(["0.000000", "0.100000"])).warnings == ()


@pytest.mark.parametrize("chunk_bytes", [1, 1 << 20])
def test_no_time_stamps_are_made_up_and_that_is_said(tmp_path: Path, chunk_bytes):
    capture = read(tmp_path, ["  can0  123   [1]  11"] * 3, chunk_bytes)
    assert capture.time_ns.tolist() == [0, 1_000_000, 2_000_000]
    assert capture.warnings == ("3 frames without a time stamp: times are made up, 1 ms apart",)


@pytest.mark.parametrize("chunk_bytes", [1, 40, 1 << 20])
@pytest.mark.parametrize("threads", [1, 2])
def test_steps_backwards_are_counted_and_kept_in_file_order(tmp_path: Path, chunk_bytes, threads):
    lines = ["# assembled from three", *log(["10.0", "11.0", "5.0", "6.0", "5.5", "7.0"])]
    path = tmp_path / "x.log"
    path.write_text("\n".join(lines) + "\n")
    capture = read_capture(path, chunk_bytes=chunk_bytes, threads=threads)
    assert (capture.time_ns / SECOND).tolist() == [10, 11, 5, 6, 5.5, 7]
    assert capture.warnings == (
        "time goes backwards 2 times, first in line 4, by 6.000000 s at most: frames are kept in file order",
    )


@pytest.mark.parametrize("chunk_bytes", [1, 40, 1 << 20])
def test_forms_mixed_in_one_file(tmp_path: Path, chunk_bytes):
    lines = [
        "  can0  123   [1]  11",
        "(1436509052.000000) can0 123#11",
        "  can1  123   [1]  11",
        "(1436509051.000000)  can0  123   [1]  11",
        "junk",
        "(1436509051.000000) can1 123##1" + "00" * 12 + " R",
    ]
    capture = read(tmp_path, lines, chunk_bytes)
    first = 1436509052 * SECOND
    assert capture.time_ns.tolist() == [0, first, first + 1_000_000, first - SECOND, first - SECOND]
    assert capture.warnings[-1].startswith("time goes backwards 1 time, first in line 4, by 1.001000 s")
