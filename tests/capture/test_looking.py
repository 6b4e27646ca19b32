"""A capture to look at: one line, parts of it, single frames, tables."""

from __future__ import annotations

import subprocess
import sys
from datetime import UTC, datetime

import numpy as np
import pytest

from netcheck.capture import ERROR, EXTENDED, FD, REMOTE, Capture, CapturedFrame
from netcheck.errors import UsageError
from tests.captures import Frame, hand_made

START = 1_700_000_000_123_456_789


def some() -> Capture:
    return hand_made(
        [
            Frame(0x100, b"\x01\x02", 0, START),
            Frame(0x100, b"\x03", EXTENDED | FD, START + 500_000_000, "can1"),
            Frame(0x12345, b"", EXTENDED | REMOTE, START + 1_000_000_000, length=8),
            Frame(0x20, b"\0" * 8, ERROR, START + 1_500_000_000),
            Frame(0x200, b"\xff" * 8, 0, START + 2_000_000_000),
        ],
        "drive.log",
    )


def test_it_is_one_short_line():
    assert repr(some()) == "<Capture drive.log: 5 frames on can0 and can1, 2.0 s>"
    assert repr(some()[:1]) == "<Capture drive.log: 1 frame on can0 and can1, 0.0 s>"
    assert repr(hand_made([], "empty.log")) == "<Capture empty.log: 0 frames, 0.0 s>"
    many = hand_made([Frame(1, b"", 0, n, f"can{n}") for n in range(9)])
    assert repr(many) == "<Capture hand.log: 9 frames on can0, can1, can2, can3 and 5 more, 0.0 s>"


def test_a_part_is_a_capture():
    part = some()[1:3]
    assert len(part) == 2
    assert part.time_ns.tolist() == [START + 500_000_000, START + 1_000_000_000]
    assert [part.payload(0), part.payload(1)] == [b"\x03", b""]
    assert part.channels == ("can0", "can1")
    assert part[0].channel == "can1"
    assert part.is_extended.tolist() == [True, True]
    assert [len(some()[cut]) for cut in (slice(0), slice(None), slice(-2, None), slice(None, None, 2))] == [
        0,
        5,
        2,
        3,
    ]
    assert some()[np.array([4, 0])].can_id.tolist() == [0x200, 0x100]
    assert some()[some().can_id == 0x100].length.tolist() == [2, 1]


def test_a_single_frame():
    assert some()[0] == CapturedFrame(START, "can0", 0x100, False, False, False, False, 2, b"\x01\x02")
    assert some()[2] == CapturedFrame(START + 10**9, "can0", 0x12345, True, False, True, False, 8, b"")
    assert some()[-1].data == b"\xff" * 8
    assert some()[np.int64(1)].is_fd
    for index in (5, -6):
        with pytest.raises(IndexError):
            some()[index]


def test_a_loop_gives_every_frame_in_order():
    capture = some()
    assert list(capture) == [capture[index] for index in range(5)]
    assert list(hand_made([])) == []
    many = hand_made([Frame(n % 2048, bytes([n % 256])) for n in range(40_000)])
    assert all((frame.can_id, frame.data) == (n % 2048, bytes([n % 256])) for n, frame in enumerate(many))
    assert sum(1 for _ in many) == 40_000


@pytest.mark.parametrize(
    ("given", "rows"),
    [
        ({}, [0, 1, 2, 3, 4]),
        ({"ids": 0x100}, [0]),
        ({"ids": 0x100, "extended": True}, [1]),
        ({"ids": 0x12345}, [2]),
        ({"ids": 0x12345, "extended": False}, []),
        ({"ids": [0x100, 0x200, 0x7FF]}, [0, 4]),
        ({"ids": range(0x100, 0x201)}, [0, 4]),
        ({"ids": ()}, []),
        ({"ids": 0x20}, []),
        ({"channel": "can1"}, [1]),
        ({"start": 0.5}, [1, 2, 3, 4]),
        ({"end": 0.5}, [0]),
        ({"start": 0.5, "end": 2.0}, [1, 2, 3]),
        ({"start": 0.4, "channel": "can0", "ids": [0x12345, 0x200]}, [2, 4]),
    ],
)
def test_only_some_frames(given, rows):
    assert some().only(**given).time_ns.tolist() == some().time_ns[rows].tolist()


def test_what_only_cannot_mean():
    with pytest.raises(UsageError, match=r"drive\.log has no channel can7 – it has can0, can1"):
        some().only(channel="can7")
    with pytest.raises(UsageError, match="from 2 to 1 s is no time – the earlier one first"):
        some().only(start=2, end=1)


def test_a_table_of_pandas():
    table = some().to_pandas()
    assert table.columns.tolist() == [
        "time",
        "channel",
        "id",
        "extended",
        "fd",
        "remote",
        "error",
        "length",
        "data",
    ]
    assert str(table["time"].dtype) == "datetime64[ns, UTC]"
    assert table["time"].astype("int64").tolist() == some().time_ns.tolist()
    assert table["channel"].tolist() == ["can0", "can1", "can0", "can0", "can0"]
    assert table["data"].tolist() == [frame.data for frame in some()]
    assert table["id"].tolist() == some().can_id.tolist()
    assert table["remote"].tolist() == [False, False, True, False, False]


def test_a_table_of_polars_and_of_arrow():
    frames = some().to_polars()
    rows = some().to_arrow()
    assert frames.columns == rows.column_names == some().to_pandas().columns.tolist()
    assert str(frames.schema["time"]) == "Datetime(time_unit='ns', time_zone='UTC')"
    assert str(rows.schema.field("time").type) == "timestamp[ns, tz=UTC]"
    assert (
        frames["time"].cast(int).to_list()
        == rows["time"].cast("int64").to_pylist()
        == some().time_ns.tolist()
    )
    for name in ("channel", "id", "extended", "error", "length", "data"):
        assert frames[name].to_list() == rows[name].to_pylist() == some().to_pandas()[name].tolist()
    assert frames["time"][0].replace(microsecond=0) == datetime(2023, 11, 14, 22, 13, 20, tzinfo=UTC)


def test_an_empty_capture_has_tables_with_all_columns():
    empty = some()[:0]
    assert (
        len(empty.to_pandas().columns) == len(empty.to_polars().columns) == empty.to_arrow().num_columns == 9
    )
    assert len(empty.to_pandas()) == len(empty.to_polars()) == empty.to_arrow().num_rows == 0


@pytest.mark.parametrize(
    ("call", "package", "extra"),
    [
        ("to_pandas", "pandas", "tables"),
        ("to_polars", "polars", "tables"),
        ("to_arrow", "pyarrow", "parquet"),
    ],
)
def test_a_library_that_is_not_installed_is_one_line(monkeypatch, call, package, extra):
    monkeypatch.setitem(sys.modules, package, None)
    message = rf'{call} needs {package}, which is not installed – pip install "netcheck\[{extra}\]"'
    with pytest.raises(UsageError, match=message):
        getattr(some(), call)()


def test_nothing_of_that_is_imported_before_it_is_used():
    code = (
        "import sys, netcheck; netcheck.read_capture, netcheck.decode; "
        "print([name for name in ('pandas', 'polars', 'pyarrow', 'matplotlib') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"
