"""Whole files and streams: channels, chunks, progress, the end of a file."""

from __future__ import annotations

import threading
from pathlib import Path

import numpy as np
import pytest

from netcheck.capture import CaptureStream, _reader, open_capture, read_capture
from netcheck.errors import UsageError


def write(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "x.log"
    path.write_text(text)
    return path


def test_columns_have_the_types_that_are_promised(tmp_path: Path):
    capture = read_capture(
        write(tmp_path, "(1.5) can0 123#1122\n(1.6) can1 123#\n(1.7) can0 123#R4\n(1.8) can1 123#33\n")
    )
    types = {
        name: getattr(capture, name).dtype
        for name in ("time_ns", "can_id", "channel", "length", "is_extended")
    }
    assert types == {
        "time_ns": np.int64,
        "can_id": np.uint32,
        "channel": np.uint8,
        "length": np.uint8,
        "is_extended": np.bool_,
    }
    assert len(capture) == 4
    assert capture.channels == ("can0", "can1")
    assert capture.channel.tolist() == [0, 1, 0, 1]
    assert capture.length.tolist() == [2, 0, 4, 1]
    assert capture.is_remote.tolist() == [False, False, True, False]
    assert [capture.payload(i).hex() for i in range(4)] == ["1122", "", "", "33"]
    assert len(capture.data) == 3  # compact: no place for what was not sent


@pytest.mark.parametrize("threads", [1, 2])
@pytest.mark.parametrize("chunk_bytes", [1, 100, 1 << 20])
def test_one_id_on_two_channels_stays_apart(tmp_path: Path, threads, chunk_bytes):
    lines = [f"({i}.000000) {'can1' if i % 3 else 'any'} 123#{i:02X}\n" for i in range(60)]
    capture = read_capture(write(tmp_path, "".join(lines)), threads=threads, chunk_bytes=chunk_bytes)
    assert capture.channels == ("any", "can1")
    assert [int(data) for data in capture.data[capture.channel == 0]] == list(range(0, 60, 3))


def test_channel_indices_hold_over_chunks_that_begin_otherwise(tmp_path: Path):
    text = "(1.0) a 001#\n(2.0) b 002#\n(3.0) c 003#\n(4.0) c 003#\n(5.0) b 002#\n(6.0) a 001#\n"
    chunks = list(open_capture(write(tmp_path, text), chunk_bytes=26))
    assert [chunk.channels for chunk in chunks] == [("a", "b"), ("a", "b", "c"), ("a", "b", "c")]
    assert [chunk.channel.tolist() for chunk in chunks] == [[0, 1], [2, 2], [1, 0]]


@pytest.mark.parametrize("threads", [1, 2])
def test_reused_buffers_hold_the_same(tmp_path: Path, threads):
    lines = [f"({i}.000000) {'can1' if i % 3 else 'any'} 123#{i:02X}\n" for i in range(60)]
    path = write(tmp_path, "x\n".join(lines))
    whole = list(open_capture(path, threads=threads, chunk_bytes=100))
    columns = ("time_ns", "can_id", "flags", "channel", "length", "start", "data")
    reused = open_capture(path, threads=threads, chunk_bytes=100).reusing_buffers()
    for kept, chunk in zip(whole, reused, strict=True):
        assert [getattr(chunk, name).tolist() for name in columns] == [
            getattr(kept, name).tolist() for name in columns
        ]
        assert (chunk.channels, chunk.skipped) == (kept.channels, kept.skipped)


def test_many_channels_and_long_names(tmp_path: Path):
    names = [f"a-channel-with-a-long-name-{i}" for i in range(20)] + [f"c{i}" for i in range(20)]
    text = "".join(f"(1.000000) {name} 123#{i:02X}\n" for i, name in enumerate(names)) * 3
    capture = read_capture(write(tmp_path, text))
    assert capture.channels == tuple(names)
    assert capture.channel.tolist() == list(range(40)) * 3
    assert [capture.payload(i)[0] for i in range(40)] == list(range(40))


def test_a_stream_has_its_totals_after_the_end(tmp_path: Path):
    stream = open_capture(write(tmp_path, "junk\n(1.0) can0 123#11\njunk\n"), chunk_bytes=1)
    assert isinstance(stream, CaptureStream)
    assert stream.warnings == ()
    (chunk,) = stream
    assert (chunk.skipped, chunk.warnings) == (1, ())
    assert (stream.channels, stream.frames, stream.skipped) == (("can0",), 1, 2)
    assert stream.warnings[0].startswith("2 of 3 lines are not frames")


def test_a_stream_can_be_left_early(tmp_path: Path):
    path = write(tmp_path, "(1.0) can0 123#11\n" * 2000)
    for threads in (1, 2):
        with open_capture(path, chunk_bytes=100, threads=threads) as stream:
            next(iter(stream))
        assert not [t.name for t in threading.enumerate() if t.name.startswith("netcheck-")]


def test_progress_counts_bytes_and_ends_at_all_of_them(tmp_path: Path, monkeypatch):
    path = write(tmp_path, "(1.0) can0 123#11\n" * 100)
    seen: list[tuple[int, int]] = []
    monkeypatch.setattr(_reader, "_PROGRESS_S", 0.0)
    read_capture(path, chunk_bytes=400, threads=1, progress=lambda done, total: seen.append((done, total)))
    assert [done for done, _ in seen] == [396, 792, 1188, 1584, 1800, 1800]
    assert {total for _, total in seen} == {1800}


def test_progress_is_called_seldom(tmp_path: Path):
    path = write(tmp_path, "(1.0) can0 123#11\n" * 100)
    seen: list[tuple[int, int]] = []
    read_capture(path, chunk_bytes=1, progress=lambda done, total: seen.append((done, total)))
    assert len(seen) < 50
    assert seen[-1] == (1800, 1800)


@pytest.mark.parametrize("wrong", [{"threads": 0}, {"chunk_bytes": 0}])
def test_numbers_below_one_make_no_sense(tmp_path: Path, wrong):
    with pytest.raises(UsageError):
        open_capture(write(tmp_path, "(1.0) can0 123#11\n"), **wrong)


# -- the end of a file


def last(tmp_path: Path, text: str, **how):
    capture = read_capture(write(tmp_path, text), **how)
    return len(capture), capture.skipped, [w for w in capture.warnings if "the last" in w]


@pytest.mark.parametrize("chunk_bytes", [1, 1 << 20])
@pytest.mark.parametrize("cut", ["(2.0) can0 123#112", "(2.0) can0 12", "(2.0", "  can0  123   [2]  11 2"])
def test_a_half_written_last_line_is_a_warning(tmp_path: Path, cut, chunk_bytes):
    frames, skipped, warnings = last(tmp_path, "(1.0) can0 123#1122\n" + cut, chunk_bytes=chunk_bytes)
    assert (frames, skipped) == (1, 1)
    assert warnings == [
        "line 2, the last one, has no line end and is not a frame: the recording was cut off in it"
    ]


@pytest.mark.parametrize("chunk_bytes", [1, 1 << 20])
def test_a_last_frame_that_may_have_lost_bytes_is_kept_with_a_doubt(tmp_path: Path, chunk_bytes):
    frames, skipped, warnings = last(
        tmp_path, "(1.0) can0 123#112233\n(2.0) can0 123#1122", chunk_bytes=chunk_bytes
    )
    assert (frames, skipped) == (2, 0)
    assert warnings == [
        "line 2, the last one, has no line end, and 2 data bytes where its id had 3 or more before: "
        "it may have been cut off"
    ]


@pytest.mark.parametrize(
    "text",
    [
        "(1.0) can0 123#1122",  # nothing to compare with
        "(1.0) can0 123#1122\n(2.0) can0 123#1122",  # as long as ever
        "(1.0) can0 123#112233\n(1.5) can0 123#11\n(2.0) can0 123#1122",  # its length varies
        "(1.0) can1 123#112233\n(2.0) can0 123#1122",  # another channel
        "(1.0) can0 123#112233\n(2.0)  can0  123   [2]  11 22",  # tells its own length
        "(1.0) can0 123#112233\n(2.0) can0 123#1122\n",  # has its line end
        "(1.0) can0 123#112233\n# the end",
    ],
)
def test_a_last_frame_without_a_line_end_is_not_doubted_for_nothing(tmp_path: Path, text):
    assert last(tmp_path, text)[1:] == (0, [])
