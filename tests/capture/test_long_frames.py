"""Frames longer than a bus can carry are refused and counted, whatever the format."""

from __future__ import annotations

from base64 import b64encode
from pathlib import Path

import pytest

from netcheck.capture import read_capture
from netcheck.errors import InputError

CSV = "timestamp,arbitration_id,extended,remote,error,dlc,data\n"
ASC = "date Wed May 27 04:09:35.000 pm 2014\nbase hex  timestamps absolute\nno internal events logged\n"
TRC = ";$FILEVERSION=2.1\n;$STARTTIME=43008.920986006946\n;$COLUMNS=N,O,T,B,I,d,R,L,D\n"


def csv_row(time: float, size: int, can_id: int = 1) -> str:
    return f"{time},{can_id:#x},0,0,0,{size},{b64encode(bytes(size)).decode()}\n"


def test_csv_rows_of_255_bytes(tmp_path: Path):
    path = tmp_path / "x.csv"
    path.write_text(CSV + csv_row(1.0, 8) + csv_row(1.1, 255) + csv_row(1.2, 65) + csv_row(1.3, 3))
    capture = read_capture(path)
    assert (capture.length.tolist(), capture.skipped) == ([8, 3], 2)
    assert capture.warnings[0].startswith("2 of 5 lines are not frames: line 3: more than ")


def test_nothing_but_long_rows(tmp_path: Path):
    path = tmp_path / "x.csv"
    path.write_text(CSV + "".join(csv_row(n / 10, 255, n) for n in range(128)) * 2)
    with pytest.raises(InputError, match="line 2: no frame as csv; more than "):
        read_capture(path)


def test_an_asc_frame_of_100_bytes(tmp_path: Path):
    path = tmp_path / "x.asc"
    fd = "   0.1 CANFD   1 Rx  123  1 0 {code} {size} {data} 0 0 1000 200050 7500 0 0 0 0 0\n"
    rows = [
        fd.format(code=code, size=size, data=" ".join(["11"] * size))
        for code, size in (("f", 64), ("f", 100))
    ]
    path.write_text(ASC + "".join(rows))
    capture = read_capture(path)
    assert (capture.length.tolist(), capture.skipped) == ([64], 1)
    assert "line 5: more than 64 data bytes" in capture.warnings[0]


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        ("   0.2 1 123 Rx d 8 " + " 11" * 20, "more than 8 data bytes in a classic frame"),
        ("   0.2 1 123 Rx d 20 " + " 11" * 20, "more than 8 data bytes in a classic frame"),
        ("   0.2 1 123 Rx d f " + " 11" * 15, "more than 8 data bytes in a classic frame"),
        ("   0.2 1 123 Rx d 2  11 22 33", "number of data bytes differs from the length given"),
    ],
)
def test_asc_bytes_that_no_classic_frame_has_are_not_cut_off(tmp_path: Path, row, reason):
    path = tmp_path / "x.asc"
    good = (
        "   0.1 1 123 Rx d 2 11 22  Length = 230000 BitCount = 118 ID = 291\n   0.15 1 123 Rx d 9" + " 11" * 8
    )
    path.write_text(f"{ASC}{good}\n{row}\n")
    capture = read_capture(path)
    assert (capture.length.tolist(), capture.skipped) == ([2, 8], 1)
    assert f"line 6: {reason}" in capture.warnings[0]


def test_trc_frames(tmp_path: Path):
    path = tmp_path / "x.trc"
    rows = ["DT 1 0123 Rx - 8  " + "11 " * 20, "FD 1 0123 Rx - 15 " + "11 " * 80, "DT 1 0123 Rx - 2  11 22"]
    path.write_text(TRC + "".join(f"{n} {n}.0 {row}\n" for n, row in enumerate(rows, 1)))
    capture = read_capture(path)
    assert (capture.length.tolist(), capture.skipped) == ([2], 2)
