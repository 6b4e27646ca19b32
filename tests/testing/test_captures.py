"""Captures kept for a session of tests: by content, read-only, not without bound."""

from __future__ import annotations

import os
import threading
from pathlib import Path

import pytest

from netcheck.errors import InputError
from netcheck.testing import CaptureCache

ONE = "(1.000000) can0 100#01\n(1.100000) can0 100#02\n"
OTHER = "(1.000000) can0 200#01\n"


def test_the_same_content_is_read_once(tmp_path: Path):
    (tmp_path / "a.log").write_text(ONE)
    (tmp_path / "b.log").write_text(ONE)
    cache = CaptureCache()
    first, second = cache.read(tmp_path / "a.log"), cache.read(tmp_path / "b.log")
    assert cache.read(tmp_path / "a.log") is first
    assert second.time_ns is first.time_ns
    assert [capture.file for capture in (first, second)] == [
        str(tmp_path / name) for name in ("a.log", "b.log")
    ]


def test_a_file_that_was_written_again_is_read_again(tmp_path: Path):
    path = tmp_path / "a.log"
    path.write_text(ONE)
    stamp = path.stat().st_mtime_ns
    cache = CaptureCache()
    assert cache.read(path).can_id.tolist() == [0x100, 0x100]
    path.write_text(ONE.replace("100#01", "123#01"))
    os.utime(path, ns=(stamp, stamp))
    assert cache.read(path).can_id.tolist() == [0x123, 0x100]


def test_what_is_shared_cannot_be_changed(tmp_path: Path):
    (tmp_path / "a.log").write_text(ONE)
    capture = CaptureCache().read(tmp_path / "a.log")
    for name in ("time_ns", "can_id", "flags", "channel", "length", "start", "data"):
        with pytest.raises(ValueError, match="read-only"):
            getattr(capture, name)[0] = 1


def test_another_form_of_the_name_is_another_capture(tmp_path: Path):
    (tmp_path / "a.log").write_text(ONE)
    (tmp_path / "a.csv").write_text(ONE)
    cache = CaptureCache()
    cache.read(tmp_path / "a.log")
    with pytest.raises(InputError):
        cache.read(tmp_path / "a.csv")


def test_those_unused_for_longest_go(tmp_path: Path):
    for name, text in (("a.log", ONE), ("b.log", OTHER), ("c.log", ONE + OTHER)):
        (tmp_path / name).write_text(text)
    size = sum(
        getattr(CaptureCache().read(tmp_path / "a.log"), name).nbytes
        for name in ("time_ns", "can_id", "flags", "channel", "length", "start", "data")
    )
    cache = CaptureCache(2 * size)
    first = cache.read(tmp_path / "a.log")
    cache.read(tmp_path / "b.log")
    assert cache.read(tmp_path / "a.log") is first
    third = cache.read(tmp_path / "c.log")
    assert cache.read(tmp_path / "c.log") is third
    assert cache.read(tmp_path / "a.log") is not first


def test_a_pipe_is_read_and_not_kept(tmp_path: Path):
    os.mkfifo(tmp_path / "pipe")
    cache = CaptureCache()
    for _ in range(2):
        writer = threading.Thread(target=(tmp_path / "pipe").write_text, args=(ONE,))
        writer.start()
        assert len(cache.read(tmp_path / "pipe")) == 2
        writer.join()
