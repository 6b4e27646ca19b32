"""Any text: the kernel is the plain reader, whatever the chunk size and the number of threads."""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from netcheck.capture import Capture, open_capture, read_capture
from netcheck.capture._candump import time_rule
from netcheck.errors import InputError
from tests.naive import naive_candump
from tests.strategies import candump_texts


def rows(capture: Capture) -> list[tuple[object, ...]]:
    """Frames as plain values."""
    columns = (capture.time_ns, capture.can_id, capture.flags, capture.length)
    values = zip(*(column.tolist() for column in columns), strict=True)
    return [(*row, capture.channels[capture.channel[i]], capture.payload(i)) for i, row in enumerate(values)]


def expected_rows(text: bytes) -> list[tuple[object, ...]]:
    deltas = time_rule(text.removeprefix(b"\xef\xbb\xbf"))
    return [
        (f.time_ns, f.can_id, f.flags, f.length, f.channel.decode("utf-8", "backslashreplace"), f.payload)
        for f in naive_candump(text, deltas).frames
    ]


def check(text: bytes, chunk_bytes: int, threads: int) -> None:
    naive = naive_candump(text, 0)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "x.log"
        path.write_bytes(text)
        if not naive.frames:
            with pytest.raises(InputError):
                read_capture(path, chunk_bytes=chunk_bytes, threads=threads)
            return
        capture = read_capture(path, chunk_bytes=chunk_bytes, threads=threads)
        stream = open_capture(path, chunk_bytes=chunk_bytes, threads=threads)
        chunks = list(stream)
    assert rows(capture) == expected_rows(text)
    assert capture.skipped == naive.skipped
    assert len(capture) + capture.skipped + naive.quiet == naive.lines
    assert [row for chunk in chunks for row in rows(chunk)] == rows(capture)
    assert all(len(chunk) for chunk in chunks)
    assert all(chunk.channels == capture.channels[: len(chunk.channels)] for chunk in chunks)
    assert (stream.channels, stream.frames, stream.skipped, stream.warnings) == (
        capture.channels,
        len(capture),
        capture.skipped,
        capture.warnings,
    )
    assert sum(chunk.skipped for chunk in chunks) <= capture.skipped


@settings(max_examples=300, deadline=None)
@given(candump_texts(), st.sampled_from([1, 60, 300, 1 << 20]), st.sampled_from([1, 2]))
def test_candump_text_is_read_as_line_by_line(text, chunk_bytes, threads):
    check(text, chunk_bytes, threads)


@settings(max_examples=150, deadline=None)
@given(st.binary(max_size=400), st.sampled_from([1, 7, 1 << 20]))
@example(b"\n" * 3, 1)
@example(b"(1.0) can0 123#\x0011\n(1.0) can0 123#11", 1 << 20)
@example(b"\xef\xbb\xbf(1.0) can0 123#11\n", 1)
def test_any_bytes_never_crash_and_every_line_is_counted(text, chunk_bytes):
    if text:
        check(text, chunk_bytes, 1)


@settings(max_examples=60, deadline=None)
@given(candump_texts(), st.sampled_from([1, 200, 1 << 20]))
def test_warnings_are_the_same_for_every_chunk_size(text, chunk_bytes):
    if not naive_candump(text, 0).frames:
        return
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "x.log"
        path.write_bytes(text)
        whole = read_capture(path, threads=1)
        pieces = read_capture(path, threads=2, chunk_bytes=chunk_bytes)
    assert whole.warnings == pieces.warnings
    assert np.array_equal(whole.start, pieces.start)
    assert whole.data.tobytes() == pieces.data.tobytes()
