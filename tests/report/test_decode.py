"""Decoded signals as a table for people and as CSV, JSON and Parquet for scripts."""

import csv
import io
import json
import math
import struct
import sys
from collections.abc import Iterator, Mapping

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from netcheck.capture import ERROR, EXTENDED
from netcheck.database import Database, Message, MuxPage, Series, Signal, decode
from netcheck.errors import UsageError
from netcheck.report import DecodeHead, csv_chunks, decode_text, json_chunks, summarise, write_parquet
from tests.captures import Frame, hand_made
from tests.report.layout import overlong

LEVER = Signal(
    "Lever", 0, 4, False, False, False, 1.0, 0.0, None, None, "", {0: "P", 1: 'R, "back"', 15: "no value"}
)
SPEED = Signal("Speed", 15, 16, True, False, False, 0.01, -67.67, None, None, "km/h")
BIG = Signal("Big", 0, 64, False, False, False, 1.0, 0.0, None, None)
REAL = Signal("Real", 0, 32, False, True, True, 2.0, 0.0, None, None, "V")
MUX = Signal("Page", 32, 8, False, False, False, 1.0, 0.0, None, None)
LEAF = Signal("OnPage", 40, 8, False, True, False, 0.5, 0.0, None, None, "", {}, (MuxPage("Page", (9,)),))
LONG = Signal("AVeryLongSignalNameThatNeedsALineOfItsOwn", 24, 8, False, False, False, 1.0, 0.0, None, None)
DATABASE = Database(
    ("hand.dbc",),
    (
        Message("Selector", 0x100, False, False, False, 8, (), None, (LEVER, SPEED, LONG)),
        Message("Far", 0x18FF0001, True, False, False, 8, (), None, (REAL, MUX, LEAF)),
        Message("Wide", 0x200, False, False, False, 8, (), None, (BIG,)),
        Message("Absent", 0x300, False, False, False, 8, (), None, (LEVER,)),
    ),
)
FRAMES = [
    Frame(0x100, bytes.fromhex("01 1A6F 05"), time_ns=1_700_000_000_000_001_000),
    Frame(
        0x18FF0001,
        struct.pack("<f", 1.25) + b"\x03\x00",
        EXTENDED,
        time_ns=1_700_000_000_010_000_000,
        channel="can,1",
    ),
    Frame(0x100, bytes.fromhex("02"), time_ns=1_700_000_000_020_000_123),
    Frame(0x100, bytes.fromhex("01"), ERROR, time_ns=1_700_000_000_025_000_000),
    Frame(0x200, b"\xff" * 8, time_ns=1_700_000_000_030_000_000),
    Frame(0x100, bytes.fromhex("10 0000 FF"), time_ns=1_700_000_000_040_000_000, channel="can,1"),
]
HEAD = DecodeHead("hand.log", ("hand.dbc",), 6, ("can0", "can,1"), 2, ("the clock steps back once",))


def parts(size: int = len(FRAMES), signals: str = "*") -> Iterator[Mapping[tuple[str, str], Series]]:
    """The capture in stretches of ``size`` frames, as a stream gives them."""
    for begin in range(0, len(FRAMES), size):
        yield decode(hand_made(FRAMES[begin : begin + size]), DATABASE, signals)


CSV = """\
time,channel,message,signal,raw,value,label
1700000000.000001,can0,Selector,Lever,1,1,"R, ""back""\"
1700000000.000001,can0,Selector,Speed,6767,0,
1700000000.000001,can0,Selector,AVeryLongSignalNameThatNeedsALineOfItsOwn,5,5,
1700000000.010000,"can,1",Far,Real,1.25,2.5,
1700000000.010000,"can,1",Far,Page,3,3,
1700000000.020000123,can0,Selector,Lever,2,2,
1700000000.030000,can0,Wide,Big,18446744073709551615,1.8446744073709552e+19,
1700000000.040000,"can,1",Selector,Lever,0,0,P
1700000000.040000,"can,1",Selector,Speed,0,-67.67,
1700000000.040000,"can,1",Selector,AVeryLongSignalNameThatNeedsALineOfItsOwn,255,255,
"""


@pytest.mark.parametrize("size", [1, 2, 6])
def test_csv_is_the_same_however_it_is_cut(size: int):
    assert "".join(csv_chunks(parts(size))) == CSV


def test_csv_blocks_join_without_a_seam(monkeypatch: pytest.MonkeyPatch):
    for rows in (1, 2, 3):
        monkeypatch.setattr("netcheck.report._decode_rows._BLOCK", rows)
        assert "".join(csv_chunks(parts())) == CSV


LABELS = ["=1+1", "+A1", "-2", "@SUM(A1)", "\ttab", "plain", "a=b", '=x,"y"', ""]


def csv_labels(spreadsheet: bool, labels: list[str]) -> list[str]:
    """Labels of a signal as a CSV reader gives them back."""
    signal = Signal("Text", 0, 8, False, False, False, 1.0, 0.0, None, None, "", dict(enumerate(labels)))
    database = Database((), (Message("One", 1, False, False, False, 1, (), None, (signal,)),))
    capture = hand_made([Frame(1, bytes([n]), time_ns=n) for n in range(len(labels))])
    chunks = csv_chunks([decode(capture, database)], spreadsheet=spreadsheet)
    return [row["label"] for row in csv.DictReader(io.StringIO("".join(chunks)))]


def test_csv_for_a_spreadsheet_has_no_formulas():
    assert csv_labels(False, LABELS) == LABELS
    assert csv_labels(True, LABELS) == [
        "'=1+1", "'+A1", "'-2", "'@SUM(A1)", "'\ttab", "plain", "a=b", "'=x,\"y\"", "",
    ]  # fmt: skip


def test_csv_escapes_what_a_terminal_would_act_upon():
    assert csv_labels(False, ["\x1b]52;c;x\x07", "\x9b31m", "\x7f", "a\u202eb", "é\nè"]) == [
        r"\u001b]52;c;x\u0007",
        r"\u009b31m",
        r"\u007f",
        r"a\u202eb",
        "é\nè",
    ]


def test_csv_values_read_back_as_they_are():
    chance = np.random.default_rng(5)
    capture = hand_made(Frame(0x100, chance.bytes(4), time_ns=int(number)) for number in range(300))
    series = decode(capture, DATABASE, "Selector.Speed")
    rows = list(csv.DictReader(io.StringIO("".join(csv_chunks([series])))))
    assert [float(row["value"]) for row in rows] == series["Selector", "Speed"].value.tolist()
    assert [int(row["raw"]) for row in rows] == series["Selector", "Speed"].raw.tolist()
    assert rows[7]["time"] == "0.000000007"


def test_csv_of_nothing_carried_is_a_header():
    series = decode(hand_made([Frame(0x7FF, b"")]), DATABASE)
    assert "".join(csv_chunks([series])) == "time,channel,message,signal,raw,value,label\n"


def test_csv_numbers_that_are_none_and_times_before_zero():
    payloads = [struct.pack("<f", number) for number in (math.nan, math.inf, -0.0, 0.0)]
    frames = [Frame(0x18FF0001, data, EXTENDED, time_ns=-1_500_000_000) for data in payloads]
    series = decode(hand_made(frames), DATABASE, "Real")
    lines = "".join(csv_chunks([series])).splitlines()[1:]
    assert [line.split(",", 4)[4] for line in lines] == ["nan,nan,", "inf,inf,", "-0,0,", "0,0,"]
    assert lines[0].startswith("-1.500000,can0,")


def test_text():
    assert (
        decode_text(HEAD, summarise(DATABASE, parts(2)))
        == """\
hand.log: 6 frames on can0, can,1
read with hand.dbc
3 of 4 messages came, 10 values

Selector 0x100, 3 frames on can0, can,1
  signal                     samples        min        max       last  unit
  Lever                            3  1× P, 1× R, "back", 1× 2; last P
  Speed                            2     -67.67       0.00     -67.67  km/h
  AVeryLongSignalNameThatNeedsALineOfItsOwn
                                   2          5        255        255

Far 0x18FF0001, 1 frame on can,1
  signal                     samples        min        max       last  unit
  Real                             1        2.5        2.5        2.5  V
  Page                             1          3          3          3
  OnPage                           0  its page never came

Wide 0x200, 1 frame on can0
  signal                     samples        min        max       last  unit
  Big                              1  1.845e+19  1.845e+19  1.845e+19

Frames too short for the signal
  - Selector.Speed: 1 of 3 frames
  - Selector.AVeryLongSignalNameThatNeedsALineOfItsOwn: 1 of 3 frames

Not in the capture: 1 message
  Absent (0x300)

To know
  - 2 lines skipped that hold no frame
  - the clock steps back once
"""
    )


@pytest.mark.parametrize("width", [40, 80, 120])
def test_text_keeps_to_its_width(width: int):
    long = DecodeHead("x/" * 60 + "hand.log", ("hand.dbc",) * 9, 6, ("can0",), 0, ("word " * 40,) * 30)
    text = decode_text(long, summarise(DATABASE, parts()), width)
    lines = text.splitlines()
    assert overlong(text, max(width, 80)) == []
    assert lines[0] == f"{long.file}:"
    assert "  - and 10 more warnings" in lines


def test_text_has_no_control_characters_of_others():
    evil = Signal("S", 0, 8, False, False, False, 1.0, 0.0, None, None, "", {0: "\x1b[31mred", 1: "a\nb"})
    database = Database(("d",), (Message("M", 1, False, False, False, 8, (), None, (evil,)),))
    part = decode(hand_made([Frame(1, b"\0"), Frame(1, b"\1")]), database)
    text = decode_text(HEAD, summarise(database, [part]))
    assert "\x1b" not in text
    assert "1× a b" in text


@pytest.mark.parametrize(
    ("lead", "expected"),
    [
        ("pos", "1× pos 0, 1× pos 1, 7 more; last pos 8"),
        ("a rather long state", "1× a rather long state 0, 8 more; last a …"),
    ],
)
def test_states_that_do_not_fit_are_counted(lead: str, expected: str):
    labels = {number: f"{lead} {number}" for number in range(9)}
    many = Signal("S", 0, 8, False, False, False, 1.0, 0.0, None, None, "", labels)
    database = Database(("d",), (Message("M", 1, False, False, False, 8, (), None, (many,)),))
    part = decode(hand_made(Frame(1, bytes([number])) for number in range(9)), database)
    text = decode_text(HEAD, summarise(database, [part]))
    assert f"  S                                9  {expected}\n" in text


def test_a_labelled_quantity_stays_a_quantity():
    # one label among many values, as for "not available": min and max say more
    speed = Signal("S", 0, 8, False, False, False, 1.0, 0.0, None, None, "km/h", {255: "not available"})
    database = Database(("d",), (Message("M", 1, False, False, False, 8, (), None, (speed,)),))
    part = decode(hand_made(Frame(1, bytes([number])) for number in range(200)), database)
    (line,) = [
        line
        for line in decode_text(HEAD, summarise(database, [part])).splitlines()
        if line.startswith("  S ")
    ]
    assert line.split() == ["S", "200", "0", "199", "199", "km/h"]


def test_every_frame_too_short():
    part = decode(hand_made([Frame(0x200, b"1234567")] * 3), DATABASE)
    text = decode_text(HEAD, summarise(DATABASE, [part]))
    assert "  Big                              0  every frame is too short\n" in text
    assert "  - Wide.Big: 3 of 3 frames\n" in text


def test_json():
    series = decode(hand_made(FRAMES), DATABASE)
    found = json.loads("".join(json_chunks(HEAD, series.values())))
    signals = {(one["message"], one["signal"]): one for one in found.pop("signals")}
    assert found == {
        "schema": "netcheck.decode/1",
        "file": "hand.log",
        "dbc": ["hand.dbc"],
        "frames": 6,
        "channels": ["can0", "can,1"],
        "skipped_lines": 2,
        "warnings": ["the clock steps back once"],
    }
    assert list(signals) == list(series)
    assert signals["Selector", "Lever"] == {
        "message": "Selector",
        "signal": "Lever",
        "unit": "",
        "frames": 3,
        "short": 0,
        "samples": 3,
        "labels": {"0": "P", "1": 'R, "back"', "15": "no value"},
        "time_ns": [1_700_000_000_000_001_000, 1_700_000_000_020_000_123, 1_700_000_000_040_000_000],
        "channel": ["can0", "can0", "can,1"],
        "raw": [1, 2, 0],
        "value": [1.0, 2.0, 0.0],
    }
    assert signals["Wide", "Big"]["raw"] == [2**64 - 1]
    assert (signals["Absent", "Lever"]["frames"], signals["Absent", "Lever"]["raw"]) == (0, [])


def test_json_has_null_for_what_is_no_number():
    payloads = [struct.pack("<f", number) for number in (math.nan, math.inf, 1.0)]
    series = decode(hand_made(Frame(0x18FF0001, data, EXTENDED) for data in payloads), DATABASE, "Real")
    (found,) = json.loads("".join(json_chunks(HEAD, series.values())))["signals"]
    assert (found["raw"], found["value"]) == ([None, None, 1.0], [None, None, 2.0])


def parquet(given: Iterator[Mapping[tuple[str, str], Series]]) -> pa.Table:
    file = io.BytesIO()
    write_parquet(given, file)
    return pq.read_table(pa.BufferReader(file.getvalue()), use_threads=False, pre_buffer=False)


@pytest.mark.parametrize("size", [1, 6])
def test_parquet_is_the_csv(size: int):
    table = parquet(parts(size))
    rows = list(csv.DictReader(io.StringIO(CSV)))
    assert table.column_names == [
        "time",
        "channel",
        "message",
        "signal",
        "raw",
        "value",
        "label",
        "raw_float",
    ]
    for name in ("channel", "message", "signal"):
        assert table[name].to_pylist() == [row[name] for row in rows]
    assert table["label"].to_pylist() == [row["label"] or None for row in rows]
    assert table["value"].to_pylist() == [float(row["value"]) for row in rows]
    floats = [row["signal"] == "Real" for row in rows]
    assert [None if raw is None else str(raw) for raw in table["raw"].to_pylist()] == [
        None if real else row["raw"] for row, real in zip(rows, floats, strict=True)
    ]
    assert table["raw_float"].to_pylist() == [1.25 if real else None for real in floats]
    times = table["time"].cast(pa.int64()).to_pylist()
    assert times[:4] == [1_700_000_000_000_001_000] * 3 + [1_700_000_000_010_000_000]
    assert 1_700_000_000_020_000_123 in times


def test_parquet_of_plain_integers_has_the_columns_of_the_csv():
    table = parquet(parts(signals="Lever"))
    assert str(table.schema.field("time").type) == "timestamp[ns, tz=UTC]"
    assert table.column_names == ["time", "channel", "message", "signal", "raw", "value", "label"]
    assert table.schema.field("raw").type == pa.int64()
    assert table["raw"].to_pylist() == [1, 2, 0]


def test_parquet_without_pyarrow_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    with pytest.raises(UsageError, match=r'not installed – pip install "netcheck\[parquet\]"'):
        write_parquet(parts(), io.BytesIO())


def test_parquet_into_a_pipe():
    class Pipe(io.RawIOBase):
        """Can only be written, from front to back."""

        def __init__(self) -> None:
            self.pieces: list[bytes] = []

        def writable(self) -> bool:
            return True

        def write(self, data: bytes, /) -> int:
            self.pieces.append(bytes(data))
            return len(data)

        def tell(self) -> int:
            raise OSError("a pipe has no place")

    pipe = Pipe()
    write_parquet(parts(2), pipe)
    table = pq.read_table(pa.BufferReader(b"".join(pipe.pieces)), use_threads=False, pre_buffer=False)
    assert table.num_rows == 10
    assert not pipe.closed
