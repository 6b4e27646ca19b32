"""CSV captures by their header: what it says, what the rows leave no doubt of, and what is asked for."""

from __future__ import annotations

import random
from base64 import b64encode
from pathlib import Path

import pytest

from netcheck.capture import BRS, ERROR, EXTENDED, FD, REMOTE, Capture, open_capture, read_capture
from netcheck.errors import InputError, UsageError

PYTHON_CAN = "timestamp,arbitration_id,extended,remote,error,dlc,data\n"
NO_CHANNEL = "frames name no channel: the channel is called can0 here"
RELATIVE = "time stamps count from the start of the recording: they are not times of day"


def read(tmp_path: Path, text: str, csv: str = "", name: str = "x.csv", **how: int) -> Capture:
    path = tmp_path / name
    path.write_bytes(text.encode("utf-8"))
    return read_capture(path, csv=csv, **how)


def rows(capture: Capture) -> list[tuple[int, int, int, int, str]]:
    """(ns, id, flags, length, payload) of each frame."""
    columns = (capture.time_ns, capture.can_id, capture.flags, capture.length)
    values = zip(*(column.tolist() for column in columns), strict=True)
    return [(*row, capture.payload(i).hex()) for i, row in enumerate(values)]


FRAMES = [
    (1_500_000_000, 0x1A3, 0, 2, "1122"),
    (1_750_000_000, 0x18DAF110, EXTENDED, 3, "aabb0c"),
    (2_000_000_000, 0x012, 0, 0, ""),
]

FORMS = {
    "comma, seconds, one column": (
        "time [s],id (hex),len,data\n1.5,1A3,2,11 22\n1.75,18DAF110,3,AABB0C\n2,012,0,\n"
    ),
    "other order": (
        "Data;DLC;Time (ms);CAN-ID hex\n11 22;2;1500;0x1A3\nAA-BB-0C;3;1750;18DAF110x\n;0;2000,0;12\n"
    ),
    "tab and comma decimals": (
        "Time_us\tID\tData\n1500000\t1A3\t1122\n1750000,0\t18DAF110\tAABB0C\n2000000\t012\t\n"
    ),
    "a column a byte": (
        "Time[ms],Id[dec],Ext,DLC,D0,D1,D2\n"
        "1500,419,0,2,17,34,0\n1750,417001744,1,3,170,187,12\n2000,18,0,0,0,0,0\n"
    ),
    "bytes from 1, empty cells": (
        "Timestamp (s),ID,IDE,Len,B1,B2,B3\n"
        "1.5,1A3,false,2,11,22,\n1.75,18DAF110,true,3,AA,BB,C\n2.0,012,0,0,,,\n"
    ),
    "quoted, with an empty line": (
        'time_ns,"id","data"\n1500000000,"1A3","11 22"\n\n'
        '"1750000000","18DAF110","AA BB 0C"\n2000000000,"012",""\n'
    ),
}


@pytest.mark.parametrize("chunk_bytes", [1, None])
@pytest.mark.parametrize("form", FORMS)
def test_any_order_separator_and_unit(tmp_path: Path, form, chunk_bytes):
    capture = read(tmp_path, FORMS[form], chunk_bytes=chunk_bytes)
    assert rows(capture) == FRAMES
    assert (capture.skipped, capture.has_times) == (0, True)
    assert capture.warnings == (NO_CHANNEL, RELATIVE)


def test_flags_channels_and_columns_that_mean_nothing(tmp_path: Path):
    text = (
        "Bus,Time (s),ID hex,RTR,Error,FD,BRS,DLC,Data hex,Direction,Note\n"
        "1,1.0,123,1,0,0,0,4,,Rx,asked\n1,1.1,123,0,1,0,0,0,,Rx,\n"
        f"Body CAN,1.2,123,0,0,1,1,12,{'AB' * 12},Tx,\n1,1.3,123,0,0,1,0,2,AB CD,Rx,\n"
    )
    capture = read(tmp_path, text)
    assert capture.flags.tolist() == [REMOTE, ERROR, FD | BRS, FD]
    assert capture.length.tolist() == [4, 0, 12, 2]
    assert capture.channels == ("can1", "Body-CAN")
    assert capture.warnings == ("columns that are not read: Note", RELATIVE)


def bus(unit: float, *, decimals: int = 0) -> str:
    """A second of 20 messages, 10 ms to 1 s apart, in rows whose header says no unit; times in ``unit`` s."""
    rng = random.Random(4)
    periods = [0.01, 0.02, 0.05, 0.1, 0.2] * 4
    frames = sorted(
        (n * period + rng.random() * 0.002, 0x100 + number)
        for number, period in enumerate(periods)
        for n in range(int(1 / period))
    )
    lines = [f"{time / unit:.{decimals}f},{can_id:X},2,AB12" for time, can_id in frames]
    return "Time,ID,DLC,Data\n" + "\n".join(lines) + "\n"


@pytest.mark.parametrize(
    ("unit", "decimals", "said"), [(1.0, 6, "s"), (1e-3, 3, "ms"), (1e-3, 0, "ms"), (1e-6, 0, "µs")]
)
def test_the_unit_by_the_steps_is_told(tmp_path: Path, unit, decimals, said):
    capture = read(tmp_path, bus(unit, decimals=decimals))
    assert 0.9e9 < capture.time_ns[-1] - capture.time_ns[0] < 1.1e9
    assert f"times are taken as {said}, by their steps" in capture.warnings


@pytest.mark.parametrize("step", [0.001, 1.0, 5.0, 1000.0])
def test_few_messages_do_not_tell_the_unit(tmp_path: Path, step):
    text = "Time,ID,Data\n" + "".join(f"{n * step},1A{n % 3},AB\n" for n in range(100))
    with pytest.raises(InputError) as caught:
        read(tmp_path, text)
    assert str(caught.value).endswith(
        "x.csv: line 1: its header does not say the unit of the time – tell it with --csv time=s, time=ms or "
        "time=us; netcheck trim then makes a log of it, which every command reads"
    )
    capture = read(tmp_path, text, "time=us")
    assert capture.time_ns[-1] == round(99 * step * 1000)


def test_digits_alone_do_not_tell_the_base(tmp_path: Path):
    text = "Time (s),ID,DLC,Data\n1.0,291,2,11 22\n1.1,1024,2,33 44\n"
    with pytest.raises(
        InputError, match="whether ids are hexadecimal or decimal – tell it with --csv id=hex"
    ):
        read(tmp_path, text)
    with pytest.raises(
        InputError, match="whether data are hexadecimal or decimal – tell it with --csv data="
    ):
        read(tmp_path, text, "id=dec")
    found = read(tmp_path, text, "id=dec,data=hex")
    assert (found.can_id.tolist(), found.payload(0)) == ([291, 1024], b"\x11\x22")
    found = read(tmp_path, text, "data=dec, id=hex")
    assert (found.can_id.tolist(), found.payload(0)) == ([0x291, 0x1024], bytes([11, 22]))


@pytest.mark.parametrize(
    ("cells", "value"), [("0x10", 16), ("1A", 0x1A), ("010", 16), ("00000010", 16), ("010,0A", 16)]
)
def test_ids_that_tell_their_base(tmp_path: Path, cells, value):
    text = "Time (s),ID,Data hex\n" + "".join(f"1.0,{cell},11\n" for cell in cells.split(","))
    assert read(tmp_path, text).can_id[0] == value


@pytest.mark.parametrize(
    ("text", "data"), [("200 17 3", [200, 17, 3]), ("20 1F", [32, 31]), ("05 17", [5, 23])]
)
def test_bytes_that_tell_their_base(tmp_path: Path, text, data):
    assert read(tmp_path, f"Time (s),ID hex,Data\n1.0,10,{text}\n").payload(0) == bytes(data)


@pytest.mark.parametrize("hint", ["time=h", "ms", "colour=red", "id=oct", "=", "id=hex;data=hex"])
def test_hints_that_say_nothing(tmp_path: Path, hint):
    with pytest.raises(
        UsageError, match=r"says nothing .* – write time=s\|ms\|us\|ns; id=hex\|dec; data=hex\|dec"
    ):
        read(tmp_path, "Time (s),ID hex,Data hex\n1.0,10,11\n", hint)


def test_hex_text_in_python_cans_own_columns_is_not_taken_for_base64(tmp_path: Path):
    text = PYTHON_CAN + "".join(f"1.{n},0x123,0,0,0,8,112233445566{n:04X}\n" for n in range(5))
    capture = read(tmp_path, text)
    assert capture.payload(3).hex() == "1122334455660003"
    assert "data are taken as hex digits: as base64 they do not fit their length" in capture.warnings


def test_data_that_do_not_fit_their_length_are_refused_with_the_line(tmp_path: Path):
    good = f"1.0,0x123,0,0,0,8,{b64encode(bytes(8)).decode()}\n"
    capture = read(tmp_path, PYTHON_CAN + good * 3 + "1.1,0x123,0,0,0,8,1122334455667788\n" + good)
    assert (len(capture), capture.skipped) == (4, 1)
    assert "line 5: number of data bytes differs from the length given" in capture.warnings[0] or (
        "line 5: more than 8 data bytes" in capture.warnings[0]
    )
    with pytest.raises(
        InputError, match="line 2: no frame as csv; number of data bytes differs from the length given"
    ):
        read(tmp_path, "Time (s),ID hex,DLC,Data hex\n1.0,123,8,1122\n1.1,123,4,1122334455\n")


def test_base64_under_other_titles_is_told(tmp_path: Path):
    data = b64encode(bytes(range(0xF8, 0x100))).decode()
    capture = read(tmp_path, f"Time (s),ID hex,DLC,Data\n1.0,123,8,{data}\n")
    assert capture.payload(0) == bytes(range(0xF8, 0x100))
    assert "data are taken as base64, by their length" in capture.warnings


def test_without_a_time_column_there_are_no_times(tmp_path: Path):
    capture = read(tmp_path, "ID hex,Data hex\n123,11\n123,22\n")
    assert (capture.time_ns.tolist(), capture.has_times) == ([0, 1_000_000], False)
    assert capture.warnings[-1] == "2 frames without a time stamp: times are made up, 1 ms apart"


def test_can_fd_without_a_column_for_it_is_told(tmp_path: Path):
    capture = read(tmp_path, f"Time (s),ID hex,Data hex\n1.0,123,{'AB' * 12}\n1.1,123,AB\n")
    assert capture.flags.tolist() == [FD, 0]
    assert "frames of more than 8 bytes are taken for CAN FD, 1 of them" in capture.warnings


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        ("nan,123,1,11", "time stamp cannot be read"),
        ("inf,123,1,11", "time stamp cannot be read"),
        ("1e12,123,1,11", "time stamp cannot be read"),
        ("99999999999999999999,123,1,11", "time stamp cannot be read"),
        (",123,1,11", "time stamp cannot be read"),
        ("1.0,-123,1,11", "id or data cannot be read as the numbers that they are in this file"),
        ("1.0,xyz,1,11", "id or data cannot be read as the numbers that they are in this file"),
        ("1.0,,1,11", "id or data cannot be read as the numbers that they are in this file"),
        ("1.0,FFFFFFFF,1,11", "id does not fit in its bits"),
        ("1.0,123,-1,11", "length cannot be read"),
        ("1.0,123,1e9,11", "length cannot be read"),
        ("1.0,123,300," + "11" * 300, "more than 64 data bytes"),
        ("1.0,123,9," + "11" * 9, ""),
        ("1.0,123,2,11", "number of data bytes differs from the length given"),
        ("1.0,123,1,1", "data are not hex digits in pairs"),
        ("1.0,123,1,ZZ", "data are not hex digits in pairs"),
        ("1.0,123", "fewer columns than the header"),
        ('1.0,123,1,"11', ""),
        ("1.0,123,1," + "1" * 5000, "longer than 4096 bytes"),
    ],
)
def test_a_bad_row_is_counted_with_its_reason(tmp_path: Path, row, reason):
    capture = read(tmp_path, f"Time (s),ID hex,DLC,Data hex\n0.5,123,1,11\n{row}\n1.5,123,1,22\n")
    assert [capture.payload(i).hex() for i in (0, -1)] == ["11", "22"]
    assert capture.skipped == (1 if reason else 0)
    assert not reason or f"line 3: {reason}" in capture.warnings[0]


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("Time,Data\n1,11\n", "names no column for the id"),
        ("Time,ID\n1,11\n", "names no column for the data"),
        ("1.0,123,11\n1.1,123,22\n", "names no column for the id and the data"),
        ("\x00\x01\x02,,,\n", "names no column for the id and the data"),
        ("Time,ID,D0,D2\n1,11,1,2\n", "names no column for the data"),
        ("Time (s),ID hex,Data hex\n", "no frame as csv"),
    ],
)
def test_columns_that_cannot_be_told(tmp_path: Path, text, what):
    with pytest.raises(InputError, match=what) as caught:
        read(tmp_path, text)
    assert "\n" not in str(caught.value)
    assert " – " in str(caught.value)


def test_times_before_the_trigger_are_below_zero(tmp_path: Path):
    assert read(tmp_path, "Time (s),ID hex,Data hex\n-0.25,123,11\n").time_ns.tolist() == [-250_000_000]


def test_tab_separated_files_by_their_name_and_streams(tmp_path: Path):
    path = tmp_path / "x.tsv"
    path.write_text("Time (s)\tID hex\tData hex\n1.0\t123\t11\n")
    (chunk,) = open_capture(path, csv="")
    assert chunk.payload(0) == b"\x11"
