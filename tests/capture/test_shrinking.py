"""A file that changes while it is read: an error in one line, whatever is done to it."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from netcheck.capture import _disk, open_capture, read_capture
from netcheck.errors import InputError

LINE = b"(1436509052.249713) can0 123#1122334455667788\n"


@pytest.mark.parametrize("threads", [1, 2])
def test_a_file_that_becomes_shorter(tmp_path: Path, threads):
    path = tmp_path / "x.log"
    path.write_bytes(LINE * 20_000)
    chunks = iter(open_capture(path, threads=threads, chunk_bytes=10_000))
    next(chunks)
    os.truncate(path, 100_000)
    with pytest.raises(InputError, match="became shorter while it was read: 920,000 bytes at first"):
        list(chunks)
    stream = open_capture(path)
    os.truncate(path, 50)
    with pytest.raises(InputError, match="became shorter"):
        stream.read()


def test_it_ends_no_process(tmp_path: Path):
    """With the file mapped, the kernel's reading ended the process by SIGBUS."""
    path = tmp_path / "x.log"
    path.write_bytes(LINE * 200_000)
    script = (
        "import os, sys\n"
        "from netcheck.capture import open_capture\n"
        "from netcheck.errors import InputError\n"
        "stream = open_capture(sys.argv[1])\n"
        "os.truncate(sys.argv[1], 4096)\n"
        "try:\n    stream.read()\nexcept InputError as error:\n    print(error)\n    sys.exit(2)\n"
    )
    ended = subprocess.run([sys.executable, "-c", script, path], capture_output=True, text=True, check=False)
    assert (ended.returncode, ended.stderr) == (2, "")
    assert ended.stdout.startswith(f"{path}: became shorter while it was read")
    assert ended.stdout.count("\n") == 1


@pytest.mark.parametrize("suffix", ["asc", "blf"])
def test_other_formats_too(tmp_path: Path, suffix):
    from tests.capture.test_foreign import CLASSIC, write

    path = write(tmp_path / f"x.{suffix}", CLASSIC * 4000)
    stream = open_capture(path)
    os.truncate(path, path.stat().st_size // 2)
    with pytest.raises(InputError, match="became shorter while it was read"):
        stream.read()


def test_a_disk_that_is_pulled_out(tmp_path: Path, monkeypatch):
    path = tmp_path / "x.log"
    path.write_bytes(LINE * 2000)
    stream = open_capture(path, chunk_bytes=10_000)

    def fail(*_: object) -> int:
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(_disk.os, "preadv", fail)
    with pytest.raises(InputError, match=r"cannot be read \(Input/output error\)"):
        stream.read()


def test_what_is_appended_meanwhile_is_not_read(tmp_path: Path):
    path = tmp_path / "x.log"
    path.write_bytes(LINE * 10)
    stream = open_capture(path)
    with path.open("ab") as file:
        file.write(LINE)
    assert len(stream.read()) == 10


def test_without_positioned_reads(tmp_path: Path, monkeypatch):
    """As on a system that has none."""
    path = tmp_path / "x.log"
    path.write_bytes(b"".join(b"(%d.0) can0 123#%04X\n" % (i, i) for i in range(3000)))
    whole = read_capture(path)
    monkeypatch.setattr(_disk, "_HAS_PREADV", False)
    again = read_capture(path, threads=2, chunk_bytes=300)
    assert again.data.tobytes() == whole.data.tobytes()
    assert again.time_ns.tolist() == whole.time_ns.tolist()
