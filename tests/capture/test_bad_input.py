"""Files that cannot be used: one line that names the file and what to do."""

from __future__ import annotations

import bz2
import os
import random
from pathlib import Path

import pytest

from netcheck.capture import _chunks, open_capture, read_capture
from netcheck.errors import InputError


def refused(path: Path) -> str:
    with pytest.raises(InputError) as caught:
        read_capture(path)
    text = str(caught.value)
    assert text.startswith(str(path))
    assert "\n" not in text
    assert " – " in text  # a remedy
    return text


def test_missing(tmp_path: Path):
    assert "there is no such file" in refused(tmp_path / "gone.log")


def test_no_name_for_a_file(tmp_path: Path):
    assert "cannot be a file name" in refused(tmp_path / "x\0.log")


def test_directory(tmp_path: Path):
    assert "is a directory" in refused(tmp_path)


@pytest.mark.parametrize("name", ["x.log", "x.asc", "x.blf", "x"])
def test_empty(tmp_path: Path, name):
    (tmp_path / name).touch()
    assert "is empty" in refused(tmp_path / name)


def test_no_permission(tmp_path: Path, monkeypatch):
    # Not by chmod: whoever runs the tests may be allowed everything.
    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    path = tmp_path / "x.log"
    path.touch()
    monkeypatch.setattr(_chunks.Path, "open", refuse)
    assert "cannot be read: no permission" in refused(path)


def test_a_fault_of_the_disk(tmp_path: Path, monkeypatch):
    def fail(*_: object, **__: object) -> None:
        raise OSError(5, "Input/output error")

    path = tmp_path / "x.log"
    path.touch()
    monkeypatch.setattr(_chunks.Path, "open", fail)
    assert "cannot be read (Input/output error)" in refused(path)


@pytest.mark.parametrize("name", ["x.log", "x.bin", "x"])
@pytest.mark.parametrize("size", [1, 100, 100_000])
def test_binary_junk(tmp_path: Path, name, size):
    path = tmp_path / name
    path.write_bytes(b"\0" + random.Random(3).randbytes(size))
    assert "is binary data, not candump text" in refused(path)


@pytest.mark.parametrize("suffix", ["asc", "blf", "csv", "trc", "mf4"])
@pytest.mark.parametrize("size", [3, 100, 5000])
def test_binary_junk_under_another_formats_name(tmp_path: Path, suffix, size):
    path = tmp_path / f"x.{suffix}"
    path.write_bytes(random.Random(3).randbytes(size))
    refused(path)


@pytest.mark.parametrize(
    ("start", "what"),
    [
        ("(1.0) can0 123#11\n".encode("utf-16"), "is UTF-16 text"),
        (bz2.compress(b"(1.0) can0 123#11\n"), "is compressed with bzip2"),
        (b"PK\x03\x04junk", "is a zip archive"),
        (b"\n# nothing\n\n", "has no frame, only blank lines or comments"),
        (b"time,id,data\n1,2,3\n", "line 1: no frame in 2 lines; not a candump line: “time,id,data”"),
        (b"(1.0) can0 123#1", "line 1: no frame in 1 line; odd number of data digits"),
    ],
)
def test_no_frame_at_all(tmp_path: Path, start, what):
    path = tmp_path / "x.log"
    path.write_bytes(start)
    assert what in refused(path)


def test_a_pipe_is_read_to_its_end(tmp_path: Path):
    path = tmp_path / "pipe"
    os.mkfifo(path)
    text = b"(1.0) can0 123#11\n" * 3
    child = os.fork()
    if not child:
        path.write_bytes(text)
        os._exit(0)
    capture = read_capture(path)
    os.waitpid(child, 0)
    assert (len(capture), capture.skipped) == (3, 0)


def test_the_error_comes_while_iterating_and_leaves_nothing_open(tmp_path: Path):
    path = tmp_path / "x.log"
    path.write_text("junk\n" * 10)
    stream = open_capture(path, chunk_bytes=5)
    with pytest.raises(InputError, match="no frame in 10 lines"):
        list(stream)
    assert stream.skipped == 10
